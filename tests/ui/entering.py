"""How the tests of the forms open a screen without a browser, find its fields and press its buttons."""

from __future__ import annotations

from streamlit.testing.v1 import AppTest

PATIENCE_S = 60


def open_room(room: str, **asked: str) -> AppTest:
    """Run one room's screen, with what stands in the page's address."""
    script = f"from prospect.ui.screens import {room}\n{room}.screen()\n"
    app = AppTest.from_string(script, default_timeout=PATIENCE_S)
    for name, value in asked.items():
        app.query_params[name] = value
    return app.run()


def shown(app: AppTest) -> str:
    """Return all words of the screen's own HTML."""
    return " ".join(element.proto.body for element in app.get("html"))


def field(app: AppTest, name: str):
    """Return the widget of a field of the one open form."""
    kinds = (app.text_input, app.text_area, app.selectbox, app.checkbox, app.get("button_group"))
    found = [widget for kind in kinds for widget in kind if (widget.key or "").split(" ", 2)[2:] == [name]]
    assert len(found) == 1, name
    return found[0]


def fill(app: AppTest, **texts: str) -> AppTest:
    """Type into fields one after the other; `_` in a name stands for a space."""
    for name, text in texts.items():
        field(app, name.replace("_", " ")).set_value(text).run()
    return app


def press(app: AppTest, label: str) -> AppTest:
    """Press a button by its words."""
    return next(button for button in app.button if button.label == label).click().run()


def labels(app: AppTest) -> set[str]:
    """Return the words of all buttons."""
    return {button.label for button in app.button}
