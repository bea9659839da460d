"""What each key does, by where it does it, as the pages' own modules have it."""

from typing import Final

KEYBOARD: Final[tuple[tuple[str, tuple[tuple[str, str], ...]], ...]] = (
    (
        "Everywhere",
        (
            ("Tab, Shift+Tab", "to the next or the previous link, field or button"),
            ("Enter", "follow a link, press a button, send a form"),
            ("first Tab on a page", "the link that leads past the head of the page"),
            ("Escape", "in the panel of the tour: leave the tour"),
        ),
    ),
    (
        "In a drawing",
        (
            ("Left, Right, Up, Down", "to the next part in that direction"),
            ("Shift with an arrow", "move the drawing"),
            ("+ and -", "larger and smaller"),
            ("0", "the whole drawing"),
            ("Home, End", "to the first and the last part"),
            ("Enter, Space", "open the sheet of the part"),
        ),
    ),
    (
        "In a table",
        (
            ("Left, Right, Up, Down", "to the next cell"),
            ("Shift with them", "choose several cells"),
            ("Ctrl with an arrow", "to the edge of the table"),
            ("Home, End", "to the first and the last cell of the row; with Ctrl, of the table"),
            ("Page Up, Page Down", "a screen further"),
            ("Tab, Enter", "to the right, down; with Shift back"),
            ("F2, or typing", "change the cell"),
            ("Escape", "give a change up; then Tab leaves the table"),
            ("Delete, Backspace", "clear what is chosen"),
            ("Ctrl+C, Ctrl+X, Ctrl+V", "copy, cut and paste, also from and to a spreadsheet program"),
            ("Ctrl+D", "fill down"),
            ("Ctrl+Z, Ctrl+Y", "undo, and do again"),
            ("Ctrl+A, Ctrl+Space, Shift+Space", "choose everything, the column, the row"),
        ),
    ),
    (
        "On the run sheet",
        (("Enter in a field", "keep that field: a note, a figure or minutes"),),
    ),
)
