"""The request id that ties log lines and the error page together; imports no rows, logging starts before them."""

import contextvars
import logging

request_id: contextvars.ContextVar[str] = contextvars.ContextVar("request_id", default="-")


class RequestIdFilter(logging.Filter):
    """Filter that lays the id of the request on each line of the log."""

    def filter(self, record: logging.LogRecord) -> bool:
        """True for every record, which then has the id of its request."""
        record.request_id = request_id.get()
        return True
