// What a picture loses when all is grey: lines that only a hue told apart, tints that are as light as their neighbours,
// a band as light as the paper, letters too pale. Colours are compared as WCAG 2 compares them, by their luminance alone.
import { expect } from '@playwright/test';

const NEIGHBOURS = 1.1; // one tint beside the next
const BAND = 1.1; // a band upon the paper
const LETTERS = 4.5; // WCAG 2.2, 1.4.3

export async function readableInGrey(page, { pictures }) {
  const seen = await page.evaluate(looked);
  expect(seen.pictures, 'pictures on the page').toBeGreaterThanOrEqual(pictures);
  const amiss = [...seen.alike.map((where) => `two lines over the same days look alike: ${where}`)];
  for (const { where, tints } of seen.tints) {
    const ratios = tints.slice(1).map((tint, at) => contrast(tint, tints[at]));
    if (ratios.some((ratio) => ratio < NEIGHBOURS)) amiss.push(`tints as light as their neighbours, ${where}: ${ratios.map((ratio) => ratio.toFixed(2))}`);
    const darker = tints.slice(1).map((tint, at) => tint < tints[at]);
    if (new Set(darker).size > 1) amiss.push(`tints that go darker and lighter again, ${where}`);
  }
  for (const { where, band, paper } of seen.bands) if (contrast(band, paper) < BAND) amiss.push(`a band as light as the paper: ${where}`);
  for (const { where, letters, paper } of seen.letters) if (contrast(letters, paper) < LETTERS) amiss.push(`letters too pale: ${where}`);
  amiss.push(...seen.unhatched.map((where) => `a gap without hatching: ${where}`));
  if (amiss.length) throw new Error(`In grey, ${page.url()} cannot be read:\n  ${[...new Set(amiss)].join('\n  ')}`);
  return seen;
}

function contrast(one, other) {
  return (Math.max(one, other) + 0.05) / (Math.min(one, other) + 0.05);
}

// Runs in the page.
function looked() {
  const canvas = new OffscreenCanvas(1, 1).getContext('2d', { willReadFrequently: true });
  const luminance = (colour, under) => {
    canvas.globalAlpha = 1;
    canvas.fillStyle = under;
    canvas.fillRect(0, 0, 1, 1);
    canvas.fillStyle = colour;
    canvas.fillRect(0, 0, 1, 1);
    const linear = [...canvas.getImageData(0, 0, 1, 1).data].slice(0, 3).map((byte) => {
      const part = byte / 255;
      return part <= 0.04045 ? part / 12.92 : ((part + 0.055) / 1.055) ** 2.4;
    });
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2];
  };
  const paperColour = getComputedStyle(document.body).backgroundColor;
  const paper = luminance(paperColour, 'white');
  const shown = (element) => element.getClientRects().length > 0;
  const charts = [...document.querySelectorAll('svg.chart')].filter(shown);
  const seen = { pictures: charts.length + document.querySelectorAll('table.heat').length, lines: 0, alike: [], tints: [], bands: [], letters: [], unhatched: [] };
  for (const chart of charts) {
    const where = chart.querySelector('title')?.textContent ?? chart.parentElement.textContent.trim().slice(0, 60);
    const lines = [...chart.querySelectorAll('.curve, .plate')].map((line) => {
      const style = getComputedStyle(line);
      const box = line.getBBox();
      return { from: box.x, to: box.x + box.width, look: `${style.strokeDasharray} ${style.strokeWidth}` };
    }).filter(({ from, to }) => to - from > 60);
    seen.lines += lines.length;
    lines.forEach((one, at) => lines.slice(at + 1).forEach((other) => {
      if (one.from < other.to && other.from < one.to && one.look === other.look) seen.alike.push(where);
    }));
    for (const band of chart.querySelectorAll('.band')) seen.bands.push({ where, band: luminance(getComputedStyle(band).fill, paperColour), paper });
    for (const text of chart.querySelectorAll('text')) seen.letters.push({ where: `${where}: ${text.textContent}`, letters: luminance(getComputedStyle(text).fill, paperColour), paper });
    for (const gap of chart.querySelectorAll('.gap')) {
      const hatched = gap.nextElementSibling?.getAttribute('fill')?.startsWith('url(#');
      if (!hatched) seen.unhatched.push(where);
    }
  }
  for (const legend of [...document.querySelectorAll('.tints')].filter(shown)) {
    const swatches = [...legend.querySelectorAll('.swatch')].filter((swatch) => /\b(tint|heat)-\d/.test(swatch.getAttribute('class')));
    const tints = swatches.map((swatch) => {
      const style = getComputedStyle(swatch);
      return luminance(swatch instanceof SVGElement ? style.fill : style.backgroundColor, paperColour);
    });
    seen.tints.push({ where: legend.textContent.trim().replace(/\s+/g, ' '), tints });
  }
  return seen;
}
