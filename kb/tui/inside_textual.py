"""All that reaches into parts of Textual which it does not promise to keep; KNOWN is the version it is for.

A test holds the installed version against it; with another one, read this file and screen_help.py first.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, TypeVar

from textual import screen as screens
from textual._compositor import ChopsUpdate, Compositor
from textual.binding import Binding, BindingsMap
from textual.geometry import Region, Size
from textual.map_geometry import MapGeometry
from textual.reactive import Reactive
from textual.scroll_view import ScrollView
from textual.widgets._toast import Toast, ToastHolder

if TYPE_CHECKING:
    from collections.abc import Iterator

    from rich.console import Console, RenderableType
    from textual.app import App
    from textual.screen import Screen
    from textual.strip import Strip
    from textual.widget import Widget

KNOWN = "8.2"
W = TypeVar("W", bound="Widget")


def screens_at(app: App[Any], mode: str) -> tuple[Screen[Any], ...]:
    """The screens of a mode, the one on top last; none if it was not opened yet."""
    return tuple(app._screen_stacks.get(mode, ()))


def desktop_notice(app: App[Any], words: str) -> None:
    """Ask the terminal for a notice of the desktop (OSC 9); one that does not know the code shows nothing.

    The words have to be tidy: nothing in them may end the code.
    """
    if app._driver is not None:
        app._driver.write(f"\x1b]9;{words}\x07")


def forget_notices(app: App[Any]) -> None:
    """Away with notices that warn of nothing: three keys pressed in turn left three, on six lines."""
    for one in list(app._notifications):
        if one.severity == "information":
            app._unnotify(one, refresh=False)
    for screen in every_screen(app):
        for toast in screen.query(Toast):
            if toast._notification not in app._notifications and isinstance(toast.parent, ToastHolder):
                # The library takes away what it says and leaves the line in which it stood.
                toast.parent.remove()


def every_screen(app: App[Any]) -> Iterator[Screen[Any]]:
    return (screen for mode in list(app._screen_stacks) for screen in screens_at(app, mode))


def bind(screen: Screen[Any], key: str, action: str, words: str = "") -> None:
    """One key more on this screen alone; without words it stands in no list of keys."""
    screen._bindings.bind(key, action, words, show=bool(words))


def keyed(widget: W, *keys: Binding) -> W:
    """The same widget with keys of its own, in place of what it does at them by itself."""
    widget._bindings.key_to_bindings |= BindingsMap(keys).key_to_bindings
    return widget


def bound(widget: Widget, key: str) -> str:
    """What a widget itself does at a key, if no screen comes before it; empty: nothing."""
    found = widget._bindings.key_to_bindings.get(key, ())
    return next((one.action for one in found if not one.priority), "")


def forget_painted() -> None:
    """Let go of what closed screens looked like.

    A cache of colours counts the painter of each widget among its arguments and so keeps up to 1,024 of them,
    each with its painted lines: 14 MB of 40 that four thousand random keys took.
    """
    from textual._styles_cache import StylesCache

    StylesCache.get_inner_outer.cache_clear()


def paint_now(screen: Screen[Any]) -> None:
    """Paint what has changed at once; Textual waits for its next frame, up to two sixtieths of a second.

    What moves something else on the screen is left to that frame.
    """
    shown = list(screen._compositor.visible_widgets)
    if screen._layout_required or any(one._layout_required or one._scroll_required for one in shown):
        return
    for one in shown:
        if one._repaint_required:
            one._repaint_required = False
            screen._dirty_widgets.add(one)
    screen._on_timer_update()


class Written(ChopsUpdate):
    """Changed pieces of lines, as codes for the terminal."""

    def render_segments(self, console: Console) -> str:
        """The same as Textual's, which makes three objects for each move of the cursor."""
        found: list[str] = []
        for y, left, right in self.spans:
            for end, (x, piece) in zip(self.chop_ends[y], self.chops[y].items(), strict=True):
                if piece is not None and x < right and end > left:
                    shown = piece if end <= right else piece.crop(0, right - x)
                    found.append(f"\x1b[{y + 1};{x + 1}H{shown.render(console)}")
        return "".join(found)


class Painter(Compositor):
    """Paints what has changed and asks no widget for anything else.

    Textual's own asks each widget that lies between the first and the last change for all its lines, also
    those beside it and those under another one. A letter in a line to type in then costs a whole screen.
    """

    def render_update(self, full: bool = False, *given: Any, **how: Any) -> RenderableType | None:
        """What has changed. While the app gathers updates it shows none, so all stays to be painted."""
        if not full and self.root is not None and self.root.app._batch_count:
            return None
        return super().render_update(full, *given, **how)

    def render_partial_update(self) -> ChopsUpdate | None:
        """The changed spans of lines; None where nothing has changed."""
        changed = [one.intersection(self.size.region) for one in self._dirty_regions]
        self._dirty_regions.clear()
        spans = list(self._regions_to_spans(filter(None, changed)))
        if not spans:
            return None
        cuts = self.cuts
        chops: list[dict[int, Strip | None]] = [{} for _ in cuts]
        bare: dict[int, set[int]] = {}
        """By line, where pieces begin that nothing was painted in yet."""
        for y, left, right in spans:
            chops[y] = chops[y] or dict.fromkeys(cuts[y][:-1])
            ends = zip(cuts[y], cuts[y][1:], strict=False)
            bare.setdefault(y, set()).update(x for x, end in ends if x < right and end > left)
        # Front to back: who comes first covers all that come later.
        for widget, (region, clip) in self.visible_widgets.items():
            left, top, wide, high = region.intersection(clip)
            asked: dict[int, list[int]] = {}
            for y, begun in bare.items():
                if top <= y < top + high:
                    places = [cut for cut in cuts[y] if left <= cut <= left + wide]
                    if not begun.isdisjoint(places[:-1]):
                        asked[y] = places
            if not asked:
                continue
            first, last = min(asked), max(asked)
            strips = widget.render_lines(Region(left - region.x, first - region.y, wide, last + 1 - first))
            for y, places in asked.items():
                pieces = strips[y - first].divide([cut - left for cut in places[1:]])
                for x, piece in zip(places, pieces, strict=False):
                    if chops[y][x] is None:
                        chops[y][x] = piece
                bare[y].difference_update(places[:-1])
                if not bare[y]:
                    del bare[y]
            if not bare:
                break
        return Written(chops, spans, [ends[1:] for ends in cuts])


screens.Compositor = Painter  # type: ignore[attr-defined]


class Barred(ScrollView):
    """A scroll bar that comes or goes lays out nothing but itself: all else on the screen keeps its place."""

    virtual_size = Reactive(Size(0, 0), layout=False, repaint=False)
    show_vertical_scrollbar = Reactive(False, layout=False, repaint=False)

    def _scroll_update(self, virtual_size: Size) -> None:
        """Whether there is a bar, and how long; Textual paints it anew even where it stays as it is."""
        high = self.container_size.height
        if (shows := virtual_size.height > high) != self.show_vertical_scrollbar:
            self.show_vertical_scrollbar = shows
            if self._vertical_scrollbar is None or not self._bar_moved(shows):
                self.vertical_scrollbar.display = True
                self.refresh(layout=True)
        if shows:
            self.vertical_scrollbar.window_virtual_size = virtual_size.height
            self.vertical_scrollbar.window_size = high
        self.scroll_y = self.validate_scroll_y(self.scroll_y)
        if shows:
            # Where one scrolled while there was no bar, none was told of it.
            self.vertical_scrollbar.position = self.scroll_y

    def _bar_moved(self, shows: bool) -> bool:
        """Put the bar among what is painted, or take it out; False if only a layout can."""
        compositor, bar = self.screen._compositor, self.vertical_scrollbar
        if compositor._visible_map is not None or (at := compositor._full_map.get(self)) is None:
            return False
        if not shows:
            self.refresh(Region(self.size.width - 1, 0, 1, self.size.height))
        placed: dict[Widget, MapGeometry] = {}
        for widget, geometry in compositor._full_map.items():
            if widget is self and shows:
                for _, region in self._arrange_scrollbars(at.region.shrink(self.styles.gutter)):
                    room = at.container_size
                    placed[bar] = MapGeometry(region, at.order, at.clip, room, room, region, at.dock_gutter)
                    bar._size_updated(region.size, room, room, layout=False)
                    bar.refresh()
            if widget is not bar:
                placed[widget] = geometry
        compositor._full_map = placed
        compositor._cuts = compositor._layers = compositor._layers_visible = compositor._visible_widgets = (
            None
        )
        return True
