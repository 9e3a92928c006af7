import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('accounts', '0003_tokens'),
        ('reports', '0005_calendar_link'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='Reminded',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('kind', models.CharField(choices=[('certificate', 'Certificate'), ('qualification', 'Qualification'), ('equipment', 'Equipment without a certificate')], max_length=13)),
                ('thing', models.UUIDField()),
                ('due', models.DateField(help_text='The day on which it runs or ran out')),
                ('threshold', models.IntegerField(help_text='Days left that were reached; negative: days overdue, told as escalated')),
                ('day', models.DateField(help_text='The day of the letter')),
                ('letter', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='accounts.letter')),
                ('person', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'constraints': [models.UniqueConstraint(fields=('thing', 'kind', 'due', 'threshold', 'person'), name='told_once_each')],
            },
        ),
    ]
