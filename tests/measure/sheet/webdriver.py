"""Chromium without a window, over the W3C WebDriver protocol; the standard library only."""
import base64
import json
import pathlib
import shutil
import subprocess
import tempfile
import time
import urllib.error
import urllib.request

ELEMENT = "element-6066-11e4-a52e-4f735466cecf"  # W3C WebDriver, section 11
KEYS = {"Tab": "\ue004", "Enter": "\ue007", "Escape": "\ue00c", "Shift": "\ue008", "ArrowDown": "\ue015",
        "ArrowUp": "\ue013", "ArrowLeft": "\ue012", "ArrowRight": "\ue014", "Home": "\ue011", "End": "\ue010",
        "Space": " "}


class Browser:
    """One ChromeDriver with one session; what it wrote goes with it."""

    def __init__(self, width=1400, height=1000, touch=False):
        self.folder = tempfile.TemporaryDirectory(prefix="sheet-browser-")
        driver, chromium = shutil.which("chromedriver"), shutil.which("chromium")
        if not driver or not chromium:
            raise SystemExit("chromium and chromium-driver are missing: tools/check installs them")
        self.log = open(pathlib.Path(self.folder.name) / "driver.log", "w+", encoding="utf-8")
        self.process = subprocess.Popen([driver, "--port=0"], stdout=subprocess.PIPE, stderr=self.log, text=True)
        self.session = None
        self.root = None
        try:
            for line in self.process.stdout:
                if "started successfully on port" in line:
                    self.root = f"http://127.0.0.1:{int(line.rstrip('.').split()[-1].rstrip('.'))}"
                    break
            if self.root is None:
                raise SystemExit("chromedriver did not start")
            arguments = ["--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
                         "--disable-background-networking", "--disable-component-update", "--disable-sync",
                         f"--user-data-dir={self.folder.name}/profile", f"--window-size={width},{height}",
                         "--force-prefers-reduced-motion", "--disable-dev-shm-usage"]
            options = {"binary": chromium, "args": arguments}
            if touch:
                options["mobileEmulation"] = {
                    "deviceMetrics": {"width": width, "height": height, "pixelRatio": 2, "touch": True, "mobile": True}}
            answer = self.ask("POST", "/session", {"capabilities": {"alwaysMatch": {
                "browserName": "chrome", "goog:chromeOptions": options,
                "goog:loggingPrefs": {"browser": "ALL", "performance": "ALL"}}}})
            self.session = answer["sessionId"]
        except BaseException:
            self.close()
            raise

    def close(self):
        try:
            if self.session:
                self.ask("DELETE", f"/session/{self.session}")
        finally:
            self.session = None
            self.process.terminate()
            self.process.wait(timeout=30)
            self.process.stdout.close()
            self.log.close()
            self.folder.cleanup()

    def ask(self, method, path, body=None):
        request = urllib.request.Request(self.root + path, method=method,
                                         data=None if body is None else json.dumps(body).encode(),
                                         headers={"Content-Type": "application/json"})
        try:
            with urllib.request.urlopen(request, timeout=120) as answer:
                return json.load(answer)["value"]
        except urllib.error.HTTPError as error:
            raise AssertionError(f"{method} {path}: {error.read().decode()[:2000]}") from None

    def at(self, method, path, body=None):
        return self.ask(method, f"/session/{self.session}{path}", body)

    def open(self, file):
        self.at("POST", "/url", {"url": pathlib.Path(file).resolve().as_uri()})

    def run(self, script, *arguments):
        return self.at("POST", "/execute/sync", {"script": script, "args": list(arguments)})

    def find(self, selector):
        return self.at("POST", "/element", {"using": "css selector", "value": selector})[ELEMENT]

    def find_all(self, selector):
        return [found[ELEMENT] for found in
                self.at("POST", "/elements", {"using": "css selector", "value": selector})]

    def click(self, selector):
        self.at("POST", f"/element/{self.find(selector)}/click", {})

    def click_element(self, element):
        self.at("POST", f"/element/{element}/click", {})

    def text(self, selector):
        return self.at("GET", f"/element/{self.find(selector)}/text")

    def type_into(self, selector, text):
        element = self.find(selector)
        self.at("POST", f"/element/{element}/clear", {})
        if text:
            self.at("POST", f"/element/{element}/value", {"text": text})

    def press(self, *names, shift=False):
        """Keys on whatever has the focus."""
        strokes = []
        for name in names:
            key = KEYS.get(name, name)
            strokes += [{"type": "keyDown", "value": key}, {"type": "keyUp", "value": key}]
        if shift:
            strokes = [{"type": "keyDown", "value": KEYS["Shift"]}, *strokes, {"type": "keyUp", "value": KEYS["Shift"]}]
        self.at("POST", "/actions", {"actions": [{"type": "key", "id": "keyboard", "actions": strokes}]})

    def drag(self, start, end):
        self.at("POST", "/actions", {"actions": [{"type": "pointer", "id": "mouse", "actions": [
            {"type": "pointerMove", "x": int(start[0]), "y": int(start[1])}, {"type": "pointerDown", "button": 0},
            {"type": "pointerMove", "x": int(end[0]), "y": int(end[1]), "duration": 60},
            {"type": "pointerUp", "button": 0}]}]})

    def pinch(self, middle, start, end):
        """Two fingers, left and right of a place, from one distance to another."""
        def finger(name, sign):
            x, y = middle
            return {"type": "pointer", "id": name, "parameters": {"pointerType": "touch"}, "actions": [
                {"type": "pointerMove", "x": int(x + sign * start), "y": int(y)}, {"type": "pointerDown", "button": 0},
                {"type": "pointerMove", "x": int(x + sign * end), "y": int(y), "duration": 120},
                {"type": "pointerUp", "button": 0}]}
        self.at("POST", "/actions", {"actions": [finger("left", -1), finger("right", 1)]})

    def wait(self, script, what, seconds=10):
        until = time.monotonic() + seconds
        while not self.run(script):
            if time.monotonic() > until:
                raise AssertionError(f"waited in vain: {what}")
            time.sleep(0.05)

    def picture(self, file):
        pathlib.Path(file).parent.mkdir(parents=True, exist_ok=True)
        pathlib.Path(file).write_bytes(base64.b64decode(self.at("GET", "/screenshot")))

    def logged(self, kind):
        return self.at("POST", "/se/log", {"type": kind})

    def media(self, **features):
        """Emulates media features: media(prefers_color_scheme="dark")."""
        self.at("POST", "/goog/cdp/execute", {"cmd": "Emulation.setEmulatedMedia", "params": {"features": [
            {"name": name.replace("_", "-"), "value": value} for name, value in features.items()]}})
