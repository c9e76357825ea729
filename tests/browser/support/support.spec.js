// The support itself: each of its checks is shown a page that it must refuse, and one that it must let through.
import http from 'node:http';
import { expect, test as base } from '@playwright/test';
import { noViolations } from './access.js';
import { readableInGrey } from './grey.js';
import { paper } from './paper.js';
import { watch } from './watch.js';

const page = (body, head = '') => `<!doctype html><html lang="en"><head><title>Trial</title>${head}</head><body><main><h1>Trial</h1>${body}</main></body></html>`;
const chart = (drawing) => page(`<svg class="chart" width="300" height="100" viewBox="0 0 300 100"><title>Drawn</title>${drawing}</svg>`, '<style>body { background: #fff }</style>');
const curve = (dash, stroke) => `<path class="curve" fill="none" stroke="${stroke}"${dash} d="M0 10H250"/>`;
const PAGES = {
  '/good': page('<p>All is well.</p>'),
  '/console': page('', '<script>console.error("amiss")</script>'),
  '/fault': page('', '<script>null.f()</script>'),
  '/missing': page('<img src="/not-there" alt="">'),
  '/elsewhere': page('<img src="http://elsewhere.example/a.png" alt="">'),
  '/other-port': page('<img src="http://127.0.0.1:1/a.png" alt="">'),
  '/refused': page('<p style="color: red">red</p>', '<meta http-equiv="Content-Security-Policy" content="style-src \'self\'">'),
  '/unlabelled': page('<input name="a">'),
  '/pale': page('<p style="color: #bbb">Hardly to be read</p>'),
  '/small': page('<button style="width: 12px; height: 12px; padding: 0">a</button><button style="width: 12px; height: 12px; padding: 0">b</button>'),
  '/tag': page('<p>V-1042</p>', '<style>@page { size: 62mm 100mm; margin: 4mm }</style>'),
  '/long-tag': page('<p style="height: 150mm">V-1042</p>', '<style>@page { size: 62mm 100mm; margin: 4mm }</style>'),
  '/grey': chart(curve('', 'black') + curve(' stroke-dasharray="9 5"', 'black')),
  '/hue': chart(curve('', 'darkred') + curve('', 'darkblue')),
  '/faint': chart('<path class="band" fill="#fdf6f6" d="M0 0H200V50H0Z"/>'),
  '/open-gap': chart('<rect class="gap" width="20" height="50" fill="#eee"/>'),
  '/pale-letters': chart('<text x="5" y="20" fill="#c99">Nov</text>'),
  '/tints': page('<p class="tints"><b class="swatch heat-1" style="background: #f2e6d0">1</b><b class="swatch heat-1" style="background: #e5c899">2</b></p>'),
  '/hued-tints': page('<p class="tints"><b class="swatch heat-1" style="background: #f0c0c0">1</b><b class="swatch heat-1" style="background: #b0d8c0">2</b></p>'),
};

const test = base.extend({
  trial: [async ({}, use) => {
    const server = http.createServer((request, answer) => {
      const body = PAGES[request.url];
      answer.writeHead(body || request.url === '/favicon.ico' ? 200 : 404, { 'content-type': 'text/html' }).end(body ?? 'nothing here');
    });
    await new Promise((listening) => { server.listen(0, '127.0.0.1', listening); });
    await use(`http://127.0.0.1:${server.address().port}`);
    server.closeAllConnections();
    server.close();
  }, { scope: 'worker' }],
  baseURL: ({ trial }, use) => use(trial),
});

for (const [path, complaint] of [
  ['/console', /^console: amiss/],
  ['/fault', /^script: TypeError/],
  ['/missing', /^console: Failed to load resource: .* status of 404 /],
  ['/elsewhere', /^another host: http:\/\/elsewhere\.example\/a\.png/],
  ['/other-port', /^another host: http:\/\/127\.0\.0\.1:1\/a\.png/],
  ['/refused', /^security policy: style-src-attr refused inline/],
]) {
  test(`${path} is complained of`, async ({ context, page, trial }) => {
    const complaints = await watch(context, trial);
    await page.goto(path, { waitUntil: 'networkidle' });
    await expect.poll(() => complaints.heard.some((line) => complaint.test(line)), { message: String(complaint) }).toBe(true);
    expect(() => complaints.settle()).toThrow('The pages complained');
    complaints.expect(/./);
    complaints.settle();
  });
}

test('a good page is not complained of, and a complaint that was expected must come', async ({ context, page, trial }) => {
  const complaints = await watch(context, trial);
  await page.goto('/good', { waitUntil: 'networkidle' });
  complaints.settle();
  complaints.expect(/status of 422/);
  expect(() => complaints.settle()).toThrow('expected, and not heard: /status of 422/');
});

for (const [path, rule] of [['/unlabelled', 'label (critical)'], ['/pale', 'color-contrast (serious)'], ['/small', 'target-size (serious)']]) {
  test(`axe refuses ${path}`, async ({ page }) => {
    await page.goto(path);
    await expect(noViolations(page)).rejects.toThrow(rule);
  });
}

test('axe lets a good page through', async ({ page }) => {
  await page.goto('/good');
  await noViolations(page);
});

test('paper is measured and read', async ({ page }) => {
  expect(await paper(page, '/tag', { width: 62, height: 100 })).toContain('V-1042');
  await expect(paper(page, '/tag', { width: 63, height: 100 })).rejects.toThrow('mm, not 63 x 100');
  await expect(paper(page, '/tag', { width: 62, height: 99 })).rejects.toThrow('not 62 x 99');
  await expect(paper(page, '/long-tag', { width: 62, height: 100 })).rejects.toThrow('pages of /long-tag');
  await paper(page, '/long-tag', { width: 62, height: 100, pages: 2 });
  await expect(paper(page, '/nowhere', { width: 62, height: 100 })).rejects.toThrow('GET /nowhere');
});

for (const [path, complaint] of [
  ['/hue', 'two lines over the same days look alike'],
  ['/faint', 'a band as light as the paper'],
  ['/open-gap', 'a gap without hatching'],
  ['/pale-letters', 'letters too pale'],
  ['/hued-tints', 'tints as light as their neighbours'],
]) {
  test(`${path} cannot be read in grey`, async ({ page }) => {
    await page.goto(path);
    await expect(readableInGrey(page, { pictures: 0 })).rejects.toThrow(complaint);
  });
}

test('what can be read in grey is let through', async ({ page }) => {
  await page.goto('/grey');
  expect((await readableInGrey(page, { pictures: 1 })).lines).toBe(2);
  await page.goto('/tints');
  await readableInGrey(page, { pictures: 0 });
  await expect(readableInGrey(page, { pictures: 1 })).rejects.toThrow('pictures on the page');
});
