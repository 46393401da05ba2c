"""Traces for the browser: what is said of a test, any window of it, and the test played again at its own speed.

The app hands in who may see (a dependency) and who may listen: a socket passes by the app's guards of requests, so
its origin and its session are looked at here, before it is accepted.
"""

from __future__ import annotations

import asyncio
import math
import time
from collections.abc import Callable
from contextlib import AbstractContextManager, suppress
from typing import Annotated, Any
from urllib.parse import urlsplit
from uuid import UUID

import numpy as np
from fastapi import APIRouter, Depends, Query, Response, WebSocket, WebSocketDisconnect, WebSocketException
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import JSONResponse

from firstlift.core.errors import FirstliftError
from firstlift.store.read import Reader
from firstlift.web.refusals import headline, in_the_app
from firstlift.web.trace_points import Frame, Track, pack, points_between, points_in
from firstlift.web.trace_source import Shelf, Shown, read_shown

FRAMES_PER_S = 30.0
WAITING = 4
NOT_ALLOWED = 4401
NOT_THERE = 4404
# what the browser shows at once while a test is played
WINDOW_S = 10.0

Seconds = Annotated[float | None, Query(allow_inf_nan=False)]


def trace_router(
    read: Callable[[], AbstractContextManager[Reader]],
    *,
    may_see: Callable[..., Any],
    may_listen: Callable[..., Any],
    shelf: Shelf | None = None,
) -> APIRouter:
    """Give the routes of traces.

    Parameters
    ----------
    read : callable
        Opens the register for reading (`Store.read`).
    may_see : dependency
        Raises where a request may not see tests.
    may_listen : dependency of a WebSocket
        Raises WebSocketException where its session may not see tests; its origin is looked at already.
    shelf : Shelf or None
        Holds tests lately looked at.

    Returns
    -------
    APIRouter
        ``/traces/{test_id}/about`` (JSON), ``/traces/{test_id}`` (one frame of bytes) and the socket
        ``/replay/{test_id}`` (frames of bytes).
    """
    router, held = APIRouter(), shelf or Shelf()

    def shown(test_id: UUID) -> Shown:
        def anew() -> Shown:
            with read() as reader:
                return read_shown(reader, test_id)

        return held.shown(test_id, anew)

    @router.get("/traces/{test_id}/about", dependencies=[Depends(may_see)])
    def about(test_id: UUID) -> Response:
        try:
            return JSONResponse(shown(test_id).about)
        except FirstliftError as error:
            return _refused(error)

    @router.get("/traces/{test_id}", dependencies=[Depends(may_see)])
    def window(
        test_id: UUID,
        from_s: Seconds = None,
        to_s: Seconds = None,
        px: Annotated[int, Query(ge=1, le=8000)] = 1200,
    ) -> Response:
        try:
            frame = window_of(shown(test_id), from_s, to_s, px)
        except FirstliftError as error:
            return _refused(error)
        return Response(pack(frame), media_type="application/octet-stream")

    @router.websocket("/replay/{test_id}", dependencies=[Depends(same_origin), Depends(may_listen)])
    async def replay(
        socket: WebSocket,
        test_id: UUID,
        from_s: Seconds = None,
        speed: Annotated[float, Query(ge=0.05, le=20.0)] = 1.0,
        points: Annotated[int, Query(ge=60, le=20000)] = 6000,
    ) -> None:
        try:
            played = await run_in_threadpool(shown, test_id)
        except FirstliftError as error:
            raise WebSocketException(NOT_THERE, error.problems[0].what[:100]) from error
        await socket.accept()
        await _play(socket, played, played.from_s if from_s is None else from_s, speed, points / WINDOW_S)

    return router


def _refused(error: FirstliftError) -> Response:
    """Tell a script, not a person, why there are no traces: the chart shows the words in its own place."""
    problems = [
        {"code": p.code, "said": " ".join(headline(p.code)).strip(), "what": p.what, "where": p.where, "next": p.next}
        for p in map(in_the_app, error.problems)
    ]
    return JSONResponse({"problems": problems}, 404 if error.problems[0].code == "REG-010" else 422)


def same_origin(socket: WebSocket) -> None:
    """Refuse a socket that a page of another origin opens: browsers send the session's cookie along.

    Parameters
    ----------
    socket : WebSocket

    Raises
    ------
    WebSocketException
        The Origin is missing or not this host.
    """
    origin, host = socket.headers.get("origin", ""), socket.headers.get("host", "")
    if not host or urlsplit(origin).netloc != host:
        raise WebSocketException(NOT_ALLOWED, "not opened by a page of this app")


def window_of(shown: Shown, from_s: float | None, to_s: float | None, px: int) -> Frame:
    """Give what is to be drawn of a window of all channels.

    Parameters
    ----------
    shown : Shown
    from_s, to_s : float or None, [s]
        None: from its beginning, to its end. What lies outside is cut off; swapped ends are put right.
    px : int
        Width of the drawing.

    Returns
    -------
    Frame
    """
    asked = (shown.from_s if from_s is None else from_s, shown.to_s if to_s is None else to_s)
    start_s, stop_s = (min(max(each, shown.from_s), shown.to_s) for each in sorted(asked))
    points = tuple(points_in(track, start_s, stop_s, px) for track in shown.tracks)
    return Frame(0, time.monotonic(), start_s, stop_s, shown.from_s, shown.to_s, points)


class Playing:
    """A test being played: gives each frame's new samples, every sample once."""

    def __init__(self, shown: Shown, from_s: float, points_per_s: float) -> None:
        self._shown = shown
        self._points_per_s = points_per_s
        self._at_s = min(max(from_s, shown.from_s), shown.to_s)
        self._next = [_reached(track, self._at_s, side="left") for track in shown.tracks]
        self._number = 0

    @property
    def at_s(self) -> float:
        """How far it has come, [s]."""
        return self._at_s

    @property
    def done(self) -> bool:
        """Whether all of it was given."""
        return self._at_s >= self._shown.to_s

    def frame(self, until_s: float) -> Frame:
        """Give what lies between the last frame and an instant.

        Parameters
        ----------
        until_s : float, [s]

        Returns
        -------
        Frame
            Of each channel at most the asked points, peaks kept.
        """
        start_s, stop_s = self._at_s, min(max(until_s, self._at_s), self._shown.to_s)
        stretches = max(1, math.ceil(0.5 * self._points_per_s * (stop_s - start_s)))
        ends = [_reached(track, stop_s, side="right") for track in self._shown.tracks]
        parts = zip(self._shown.tracks, self._next, ends, strict=True)
        points = tuple(points_between(track, first, max(first, last), stretches) for track, first, last in parts)
        self._at_s, self._next, self._number = stop_s, ends, self._number + 1
        return Frame(self._number, time.monotonic(), start_s, stop_s, self._shown.from_s, self._shown.to_s, points)


def put_newest(queue: asyncio.Queue[bytes | None], item: bytes | None) -> None:
    """Put into a queue; where it is full its oldest item goes, so that a stalled browser slows nothing.

    Parameters
    ----------
    queue : asyncio.Queue
    item : bytes or None
        None: the end.
    """
    if queue.full():
        queue.get_nowait()
    queue.put_nowait(item)


async def _play(socket: WebSocket, shown: Shown, from_s: float, speed: float, points_per_s: float) -> None:
    """Send frames at the recording's own pace until its end, or until the browser goes."""
    queue: asyncio.Queue[bytes | None] = asyncio.Queue(WAITING)
    playing = Playing(shown, from_s, points_per_s)
    tasks = [
        asyncio.create_task(_pace(playing, queue, speed)),
        asyncio.create_task(_send(socket, queue)),
        asyncio.create_task(_until_gone(socket)),
    ]
    try:
        # the pacer ends by itself; its last frames are still to be sent
        await asyncio.wait(tasks[1:], return_when=asyncio.FIRST_COMPLETED)
    finally:
        for task in tasks:
            task.cancel()
        ended = await asyncio.gather(*tasks, return_exceptions=True)
    for each in ended:
        gone = isinstance(each, WebSocketDisconnect | asyncio.CancelledError | RuntimeError)
        if isinstance(each, BaseException) and not gone:
            raise each
    with suppress(RuntimeError, WebSocketDisconnect):
        await socket.close()


async def _pace(playing: Playing, queue: asyncio.Queue[bytes | None], speed: float) -> None:
    """Make a frame at each tick of an absolute clock; thinning runs in a worker thread."""
    began_s, from_s, tick = time.monotonic(), playing.at_s, 0
    try:
        while not playing.done:
            tick += 1
            await asyncio.sleep(max(0.0, began_s + tick / FRAMES_PER_S - time.monotonic()))
            until_s = from_s + speed * (time.monotonic() - began_s)
            put_newest(queue, await run_in_threadpool(lambda at=until_s: pack(playing.frame(at))))
    finally:
        put_newest(queue, None)


async def _send(socket: WebSocket, queue: asyncio.Queue[bytes | None]) -> None:
    while (message := await queue.get()) is not None:
        await socket.send_bytes(message)


async def _until_gone(socket: WebSocket) -> None:
    """Listen to nothing: the browser says no more than that it goes."""
    while (await socket.receive())["type"] != "websocket.disconnect":
        pass


def _reached(track: Track, at_s: float, *, side: str) -> int:
    where = np.searchsorted(track.time_s, at_s, side="right" if side == "right" else "left")
    return int(where)
