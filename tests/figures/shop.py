"""The invented shop as its owner's browser sees it, its books as the database holds them, and what was compared."""

import csv
import http.cookiejar
import io
import socket
import sqlite3
import subprocess
import time
import urllib.error
import urllib.parse
import urllib.request


class Shop:
    """The invented shop, served on a free port, with its owner signed in."""

    def __init__(self, program, folder):
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.base = f"http://127.0.0.1:{free.getsockname()[1]}"
        words = [program, "demo", "--orders", "6000", "--as-of", "2026-02-10", "--data", f"{folder}/shop", "--listen", self.base[7:]]
        self.process = subprocess.Popen(words, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        self.browser = urllib.request.build_opener(urllib.request.HTTPCookieProcessor(http.cookiejar.CookieJar()))
        self.browser.addheaders = [("Origin", self.base)]
        for _ in range(600):
            try:
                self.get("/readyz")
                break
            except urllib.error.URLError:
                if self.process.poll() is not None:
                    raise SystemExit("the program ended before it was ready")
                time.sleep(0.2)
        self.books = sqlite3.connect(f"file:{folder}/shop/purfle.db?mode=ro", uri=True)
        for line in open(f"{folder}/shop/demo-sign-in.txt", encoding="utf-8"):
            name, roles, password = line.rstrip("\n").split("\t")
            if "owner" in roles.split(","):
                self.browser.open(f"{self.base}/sign-in", urllib.parse.urlencode({"name": name, "password": password}).encode()).read()

    def get(self, path):
        return self.browser.open(self.base + path).read().decode("utf-8")

    def table(self, name, span, page="month"):
        return self.rows(f"/{page}.csv?{span}&table={name}")

    def rows(self, path):
        rows = list(csv.DictReader(io.StringIO(self.get(path))))
        if not rows:
            raise SystemExit(f"{path} is empty: nothing would be checked")
        return rows

    def sql(self, query, *values):
        return self.books.execute(query, values).fetchall()


class Compared:
    """How many figures were compared, and which differ."""

    def __init__(self):
        self.counts, self.amiss = {}, []

    def near(self, what, ours, theirs, tolerance, where):
        self.counts[what] = self.counts.get(what, 0) + 1
        # Where nothing is told it differs from any figure.
        ours = float(ours if ours != "" else "nan")
        if not abs(ours - theirs) <= tolerance:
            self.amiss.append(f"{what}: {ours} here, {theirs} there; {where}")

    def same(self, what, ours, theirs, where):
        self.counts[what] = self.counts.get(what, 0) + 1
        if ours != theirs:
            self.amiss.append(f"{what}: {ours} here, {theirs} there; {where}")

    def none(self, what, ours, where):
        self.counts[what] = self.counts.get(what, 0) + 1
        if ours != "":
            self.amiss.append(f"{what}: {ours} here, nothing there; {where}")
