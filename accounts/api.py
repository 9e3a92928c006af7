"""What the API of every room shares: paging."""

from rest_framework.pagination import CursorPagination


class NewestFirst(CursorPagination):
    """Pages by cursor, newest first; ids are time-ordered (RFC 9562 version 7)."""

    page_size = 50
    max_page_size = 500
    page_size_query_param = "page_size"
    ordering = "-pk"
