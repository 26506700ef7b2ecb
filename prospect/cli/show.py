"""The command that shows: what others may see, written to a file."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import click

from prospect.cli.ground import as_json, folder_argument
from prospect.cli.look import purpose_option
from prospect.cli.printing import print_json
from prospect.errors import GroundError, WrongUsage
from prospect.pipeline import choose, find_sites, score, share_content
from prospect.share import EXCHANGE_SUFFIXES, Audience, write_exchange, write_field_map
from prospect.store import Ground


@click.command(short_help="Write what others may see.")
@folder_argument
@click.option("--to", "path", required=True, type=click.Path(path_type=Path), help="File to write.")
@click.option(
    "--for", "audience", default="public", show_default=True, metavar="self|helper|owner:PARCEL|public"
)
@click.option("--deposit", metavar="NAME", help="Only ground of this deposit model.")
@click.option("--top", type=click.IntRange(1, 500), default=20, show_default=True)
@purpose_option
@as_json
def share(
    folder: Path, path: Path, audience: str, deposit: str | None, top: int, purpose: str | None, as_json: bool
) -> None:
    """Write what others may see: a one-file map (.html) or a file for other programs, by the ending."""
    suffix = path.suffix.lower()
    if suffix not in (".html", *EXCHANGE_SUFFIXES):
        raise WrongUsage(
            f"--to wants a file ending in .html, {', '.join(EXCHANGE_SUFFIXES)}; got '{path.name}'."
        )
    who = Audience.named(audience)
    ground = Ground.open(folder)
    scored = score(ground, choose(ground, purpose=purpose))
    found, outlines = find_sites(ground, scored, deposit=deposit, top=top)
    content = share_content(ground, scored, found, outlines, today=date.today().isoformat())
    write = write_field_map if suffix == ".html" else write_exchange
    try:
        left_out = write(path, content, who)
    except OSError as error:
        raise GroundError(f"{path} cannot be written: {error.strerror}.") from error
    if as_json:
        print_json({"file": str(path), "for": audience, "sites": len(found), "left_out": left_out})
        return
    click.echo(f"Wrote {path}, {who.title()}.")
    for line in left_out:
        click.echo(f"Left out: {line}")


COMMANDS = (share,)
