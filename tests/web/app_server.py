"""The app on a free port, and a client that works with it as a browser does."""

import re
import threading
import time
from contextlib import contextmanager

import httpx
import uvicorn

from firstlift.web.app import create_app


class Server(uvicorn.Server):
    """The app on a free port of this machine, for as long as a block lasts."""

    @contextmanager
    def running(self):
        thread = threading.Thread(target=self.run, daemon=True)
        thread.start()
        while not self.started:
            time.sleep(0.01)
        try:
            yield f"http://127.0.0.1:{self.servers[0].sockets[0].getsockname()[1]}"
        finally:
            self.should_exit = True
            thread.join(10)


class Browser:
    """A client that fills forms as a page gives them: it takes the page's own token along."""

    def __init__(self, app, url):
        self.client = httpx.Client(base_url=url, follow_redirects=True, timeout=60)
        self.app = app
        self.url = url

    def get(self, path, **more):
        return self.client.get(path, **more)

    def token(self, path):
        return re.search(r'name="csrf" value="([^"]+)"', self.get(path).text).group(1)

    def post(self, path, data=None, *, page, **more):
        answer = self.client.post(path, data={"csrf": self.token(page), **(data or {})}, **more)
        while answer.status_code == 200 and 'hx-get="/import/running/' in answer.text:  # as its page does
            time.sleep(0.1)
            answer = self.get(answer.url.path)
        return answer

    def work_as(self, name):
        page = self.get("/who").text
        person = re.search(rf'value="([0-9a-f-]{{36}})"><strong>{name}', page).group(1)
        answer = self.post("/who", {"person": person}, page="/who")
        assert answer.status_code == 200
        return self


@contextmanager
def served(store, settings):
    app = create_app(store, settings)
    config = uvicorn.Config(app, host="127.0.0.1", port=0, log_level="error", lifespan="off", ws="websockets-sansio")
    with Server(config).running() as url:
        browser = Browser(app, url)
        yield browser
        browser.client.close()
