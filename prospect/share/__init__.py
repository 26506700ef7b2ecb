"""Writes what others may see, for an audience."""

from prospect.share.audience import PUBLIC_BLOCK_M, Audience, for_audience
from prospect.share.bag_labels import write_bag_labels
from prospect.share.clay_sheet import write_clay_sheet
from prospect.share.content import FieldMapContent
from prospect.share.exchange import EXCHANGE_SUFFIXES, write_exchange
from prospect.share.field_map import write_field_map
from prospect.share.letter import letter_sheet, write_letter
from prospect.share.log_tables import write_log_tables
from prospect.share.paper import Sheet
from prospect.share.parcel_view import ParcelView, parcel_view
from prospect.share.request import Request, read_request, signed_by
from prospect.share.slip import slip_sheet, write_slip

__all__ = [
    "EXCHANGE_SUFFIXES",
    "PUBLIC_BLOCK_M",
    "Audience",
    "FieldMapContent",
    "ParcelView",
    "Request",
    "Sheet",
    "for_audience",
    "letter_sheet",
    "parcel_view",
    "read_request",
    "signed_by",
    "slip_sheet",
    "write_bag_labels",
    "write_clay_sheet",
    "write_exchange",
    "write_field_map",
    "write_letter",
    "write_log_tables",
    "write_slip",
]
