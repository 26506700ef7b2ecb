"""How the app is served: this machine only, no usage reports, the same settings by every way of starting it."""

import tomllib
from pathlib import Path

from streamlit import config
from streamlit.web.server.app_discovery import discover_asgi_app

from prospect.ui import open_ground
from prospect.ui.serving import server_settings

ROOT = Path(__file__).resolve().parents[2]


def flat(section, values):
    for key, value in values.items():
        if isinstance(value, dict):
            yield from flat(f"{section}{key}.", value)
        else:
            yield f"{section}{key}", value


def test_the_config_file_says_the_same_as_the_code():
    text = (ROOT / ".streamlit" / "config.toml").read_text(encoding="utf-8")
    assert dict(flat("", tomllib.loads(text))) == server_settings()


def test_this_machine_only_and_nothing_reported():
    settings = server_settings(8123)
    assert settings["server.address"] == "127.0.0.1"
    assert settings["server.port"] == 8123
    assert settings["browser.gatherUsageStats"] is False
    assert settings["server.enableCORS"] is settings["server.enableXsrfProtection"] is True


def test_every_setting_is_one_the_server_knows():
    assert set(server_settings()) <= set(config.get_config_options())


def test_both_launchers_are_found_as_apps():
    for launcher in (ROOT / "app.py", ROOT / "prospect" / "ui" / "launch.py"):
        assert discover_asgi_app(launcher).is_asgi_app


def test_the_ground_is_named_by_environment_or_argument(tmp_path, monkeypatch):
    monkeypatch.setenv(open_ground.GROUND_VARIABLE, str(tmp_path))
    assert open_ground.ground_folder() == tmp_path.resolve()
    monkeypatch.delenv(open_ground.GROUND_VARIABLE)
    monkeypatch.setattr("sys.argv", ["app.py", "--flag", str(tmp_path)])
    assert open_ground.ground_folder() == tmp_path.resolve()
