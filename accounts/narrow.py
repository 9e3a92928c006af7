"""What a painting contractor's people may open: the pages and addresses named here, and no others.

Their sight is denied first and opened by name, so that a page that comes later is not theirs before somebody has
thought of it. Which rows such a page shows is each model's `visible_to`, as for everybody.
"""

from __future__ import annotations

from accounts.models import Person
from inspection.foundation.refusals import NotAllowed

OPEN_TO_CONTRACTORS = frozenset(
    {
        # One's own page, keys and colleagues
        "home", "me", "sessions", "session_end", "token_new", "token_revoke", "our_people", "person_confirm",
        "person_turn_away", "letter_choices", "api_me",
        "api_letter_choices", "api_token", "api_token_list", "api_schema", "api_problem",
        # The app for work without a signal, which holds what they may see and send
        "field-app", "api_field_who", "api_field_pack",
        # The published rules
        "calculators", "calculator", "api_calculation", "api_calculation_list",
        # The project, as far as their scope reaches
        "project_list", "project", "structure", "area", "data_sheet", "api_project_list", "api_project",
        "api_party_list", "api_party", "api_area_list", "api_area", "api_section_list", "api_section",
        "api_system_list", "api_system",
        # Their own crews and shifts
        "crew_list", "crew", "shift_start", "shift_end", "shift_correct", "api_crew_list", "api_crew", "api_shift_list",
        "api_shift", "api_shift_start", "api_shift_end", "api_shift_correct",
        "api_area_steps",
        # The lots of their own crews, and when those may be painted over
        "lot_list", "lot", "lot_new", "lot_end", "lot_correct", "lot_withdraw", "lot_restore", "recoat_clock",
        "api_lot_list", "api_lot", "api_lot_chain", "api_lot_begin", "api_lot_end", "api_lot_correct",
        "api_lot_withdraw", "api_lot_restore", "api_recoat_clock",
        # Their own paint: batches and mixes
        "batch_list", "batch_new", "batch_upload", "batch_labels", "batch", "batch_correct", "batch_file",
        "batch_step_file", "batch_step_withdraw", "batch_extend", "batch_quarantine", "batch_release", "batch_withdraw",
        "batch_restore", "mix_list", "mix_new", "mix", "mix_correct", "mix_use", "mix_withdraw", "mix_restore",
        "api_batch_list", "api_batch", "api_batch_correct", "api_batch_extend", "api_batch_quarantine",
        "api_batch_release", "api_batch_withdraw", "api_batch_restore", "api_batch_step_withdraw", "api_mix_list",
        "api_batch_table", "api_mix", "api_mix_correct", "api_mix_use", "api_mix_withdraw", "api_mix_restore",
        # Climate stations that serve their areas, with what was read and logged there
        "station_list", "station", "station_log", "log_temperatures", "log_humidity", "log_margin", "logger_file",
        "api_station_list", "api_station", "api_station_log", "api_logger_file_list", "api_logger_file",
        # Notices: those they give, and those of the company on their areas
        "notice_list", "notice", "notice_file", "notice_new", "notice_move", "notice_withdraw", "notice_restore",
        "notice_acknowledge", "notice_unacknowledge", "api_notice_list", "api_notice", "api_notice_give",
        "api_notice_move", "api_notice_withdraw", "api_notice_restore", "api_notice_acknowledge",
        "api_notice_unacknowledge",
        # Photos of what they see: those shown to them, and their own people's
        "photo_list", "photo", "photo_page", "photo_small", "photo_new", "photo_change", "photo_mark",
        "photo_layer_again", "photo_withdraw", "photo_restore", "api_photo_list", "api_photo", "api_photo_image",
        "api_photo_change", "api_photo_withdraw", "api_photo_restore", "api_photo_mark", "api_photo_parts",
        # Drawings that show their areas, and notes on those: what is shown to them, and their own people's
        "drawing_list", "drawing", "drawing_revision", "drawing_picture", "drawing_file", "drawing_note_new",
        "drawing_note", "drawing_note_correct", "drawing_note_withdraw", "drawing_note_restore", "api_drawing_list",
        "api_drawing", "api_drawing_image", "api_drawing_note_list", "api_drawing_note", "api_drawing_note_correct",
        "api_drawing_note_withdraw", "api_drawing_note_restore",
        # The plan, as it came into force or as they are asked to approve it; points on their areas, which they decide
        # where the plan says so
        "api_plan_approve", "api_plan_withdraw",
        "plan", "plan_revision", "plan_approve", "plan_withdraw", "api_plan_revision_list", "api_plan_revision",
        "points_awaited", "board", "points_matrix", "point", "point_release", "point_refuse", "point_waive",
        "point_attend", "point_unrefuse", "point_presented", "points_several", "api_points_several",
        "api_point_list", "api_point", "api_point_release", "api_point_refuse",
        "api_point_waive", "api_point_attend", "api_point_unrefuse", "api_points_decide", "api_points_matrix",
        # What is asked of them
        "asked_of_us", "areas_of_ours", "nonconformance_list", "nonconformance", "nonconformance_answer",
        "nonconformance_new", "nonconformance_drop", "api_nonconformance_drop", "disposition_take_back",
        "api_nonconformance_list", "api_nonconformance", "api_nonconformance_answer",
        "api_disposition_take_back",
    }
)  # fmt: skip
# Signing in, the password and the second factor.
OF_SIGNING_IN = ("account_", "mfa_")


def refuse_if_closed(person: Person, name: str | None) -> None:
    """Raise NotAllowed where the address of that name is not open to the person."""
    if person.is_contractors and not (name and (name in OPEN_TO_CONTRACTORS or name.startswith(OF_SIGNING_IN))):
        raise NotAllowed("This page is not open to the people of a painting contractor.")
