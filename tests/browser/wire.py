"""The two wires to a browser, no more than these checks need: Chromium over the DevTools protocol,
Firefox over WebDriver BiDi (https://www.w3.org/TR/webdriver-bidi/). Each is JSON over one WebSocket."""
import base64, json, pathlib, shutil, subprocess, tempfile, time, urllib.request
import websocket


class Refused(Exception):
    """What a browser answered with an error, or threw in the page."""


class Wire:
    def __init__(self, address):
        self.socket = websocket.create_connection(address, timeout=180, suppress_origin=True)
        self.last = 0
        self.events = []

    def call(self, method, **params):
        self.last += 1
        self.socket.send(json.dumps({"id": self.last, "method": method, "params": params}))
        while True:
            said = json.loads(self.socket.recv())
            if said.get("id") == self.last:
                if said.get("error"):
                    raise Refused(f"{method}: {said.get('error')} {said.get('message', '')}")
                return said["result"]
            self.events.append(said)

    def wait_for(self, method, seconds=180):
        """The next event of that name, one that has already come included."""
        until = time.time() + seconds
        while time.time() < until:
            for at, event in enumerate(self.events):
                if event.get("method") == method:
                    return self.events.pop(at)
            self.events.append(json.loads(self.socket.recv()))
        raise Refused(f"{method} did not come in {seconds} s")


class Browser:
    """A process with a profile of its own, ended and removed at the end."""

    def start(self, command):
        self.process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.process.terminate()
        try:
            self.process.wait(20)
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.wait()
        shutil.rmtree(self.folder, ignore_errors=True)


class Chromium(Browser):
    def __init__(self):
        self.folder = tempfile.mkdtemp(prefix="witnessmark-chromium-")
        self.start([shutil.which("chromium"), "--headless=new", "--no-sandbox", "--disable-gpu", "--hide-scrollbars",
                    "--no-first-run", "--disable-background-networking", "--disable-component-update",
                    "--disable-dev-shm-usage", "--remote-debugging-port=0", f"--user-data-dir={self.folder}", "about:blank"])
        port = pathlib.Path(self.folder, "DevToolsActivePort")
        for _ in range(300):
            if port.exists() and port.read_text().strip():
                break
            time.sleep(0.1)
        self.port = int(port.read_text().split()[0])
        self.version = json.load(urllib.request.urlopen(f"http://127.0.0.1:{self.port}/json/version"))["Browser"]

    def page(self):
        ask = urllib.request.Request(f"http://127.0.0.1:{self.port}/json/new?about:blank", method="PUT")
        return Page(json.load(urllib.request.urlopen(ask))["webSocketDebuggerUrl"])


class Page(Wire):
    """A tab of Chromium."""

    def __init__(self, address):
        super().__init__(address)
        for domain in ("Page", "Runtime", "Network", "Log"):
            self.call(f"{domain}.enable")

    def screen(self, width, height=900, dark=False, scale=1):
        self.call("Emulation.setDeviceMetricsOverride", width=width, height=height, deviceScaleFactor=scale, mobile=False)
        self.call("Emulation.setEmulatedMedia", media="", features=[{"name": "prefers-color-scheme", "value": "dark" if dark else "light"}])

    def script(self, on):
        self.call("Emulation.setScriptExecutionDisabled", value=not on)

    def open(self, file):
        self.events.clear()
        self.call("Page.navigate", url=pathlib.Path(file).resolve().as_uri())
        self.wait_for("Page.loadEventFired")

    def js(self, expression):
        said = self.call("Runtime.evaluate", expression=expression, awaitPromise=True, returnByValue=True)
        if "exceptionDetails" in said:
            raise Refused(said["exceptionDetails"].get("exception", {}).get("description", "thrown") + " in " + expression[:200])
        return said["result"].get("value")

    def key(self, name, code=None, text=None, shift=False):
        common = {"key": name, "code": code or name, "windowsVirtualKeyCode": KEYS.get(name, ord(name.upper()) if len(name) == 1 else 0),
                  "modifiers": 8 if shift else 0}
        text = text if text is not None else ("\r" if name == "Enter" else name if len(name) == 1 else None)
        self.call("Input.dispatchKeyEvent", type="keyDown" if text else "rawKeyDown", **common, **({"text": text} if text else {}))
        self.call("Input.dispatchKeyEvent", type="keyUp", **common)

    def shot(self, to, whole=False):
        clip = {}
        if whole:
            size = self.call("Page.getLayoutMetrics")["cssContentSize"]
            clip = {"clip": {"x": 0, "y": 0, "width": size["width"], "height": size["height"], "scale": 1}, "captureBeyondViewport": True}
        data = self.call("Page.captureScreenshot", format="png", **clip)["data"]
        pathlib.Path(to).write_bytes(base64.b64decode(data))

    def part(self, to, selector, spare=0, scale=1):
        """A picture of one element."""
        box = self.js(f"(()=>{{const r=document.querySelector({json.dumps(selector)}).getBoundingClientRect();return [r.x+scrollX,r.y+scrollY,r.width,r.height]}})()")
        clip = {"x": max(0, box[0] - spare), "y": max(0, box[1] - spare), "width": box[2] + 2 * spare, "height": box[3] + 2 * spare, "scale": scale}
        data = self.call("Page.captureScreenshot", format="png", clip=clip, captureBeyondViewport=True)["data"]
        pathlib.Path(to).write_bytes(base64.b64decode(data))

    def pdf(self, to, width=8.27, height=11.69):
        """Printed as from the print dialog: the page's own @page margins and feet, no others."""
        data = self.call("Page.printToPDF", paperWidth=width, paperHeight=height, preferCSSPageSize=False, printBackground=False,
                         marginTop=0.4, marginBottom=0.4, marginLeft=0.4, marginRight=0.4)["data"]
        pathlib.Path(to).write_bytes(base64.b64decode(data))


KEYS = {"Tab": 9, "Enter": 13, "Escape": 27, " ": 32, "ArrowLeft": 37, "ArrowUp": 38, "ArrowRight": 39, "ArrowDown": 40,
        "Home": 36, "End": 35, "+": 187, "-": 189, "0": 48}


class Firefox(Browser):
    def __init__(self, folder=None):
        import socket
        self.folder = tempfile.mkdtemp(prefix="witnessmark-firefox-")
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port = free.getsockname()[1]
        self.start([shutil.which("firefox-esr") or shutil.which("firefox"), "--headless", "--no-remote",
                    "--remote-debugging-port", str(self.port), "--profile", self.folder])
        for _ in range(300):
            try:
                self.wire = Wire(f"ws://127.0.0.1:{self.port}/session")
                break
            except (OSError, websocket.WebSocketException):
                time.sleep(0.2)
        got = self.wire.call("session.new", capabilities={})
        self.version = f"Firefox {got['capabilities']['browserVersion']}"
        self.wire.call("session.subscribe", events=["log.entryAdded", "network.beforeRequestSent"])
        self.tab = self.wire.call("browsingContext.getTree")["contexts"][0]["context"]

    def screen(self, width, height):
        self.wire.call("browsingContext.setViewport", context=self.tab, viewport={"width": width, "height": height})

    def open(self, file):
        self.wire.events.clear()
        self.wire.call("browsingContext.navigate", context=self.tab, url=pathlib.Path(file).resolve().as_uri(), wait="complete")

    def js(self, expression):
        got = self.wire.call("script.evaluate", expression=f"JSON.stringify({expression})", target={"context": self.tab}, awaitPromise=True)
        if got["type"] != "success":
            raise Refused(str(got.get("exceptionDetails", got))[:400])
        return json.loads(got["result"]["value"])

    def shot(self, to):
        data = self.wire.call("browsingContext.captureScreenshot", context=self.tab)["data"]
        pathlib.Path(to).write_bytes(base64.b64decode(data))
