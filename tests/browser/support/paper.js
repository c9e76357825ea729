// A page as the printer gets it: printed to PDF at the size its style sheet asks for, measured, and read back.
import { execFile } from 'node:child_process';
import { promisify } from 'node:util';
import { expect, test } from '@playwright/test';

const run = promisify(execFile);
const MM_PER_POINT = 25.4 / 72;
const WITHIN_MM = 0.5;
const BOX = 1.37; // how high the box of a word is, in our font, for each point of its size

// `width` and `height` in mm; `format`: what lies in the printer, for a page that has no size of its own; `smallest`: no word
// may be set in fewer points. Answers the text on the paper.
export async function paper(page, url, { width, height, pages = 1, format, smallest = 0 }) {
  const file = test.info().outputPath(`${url.replace(/\W+/g, '-')}.pdf`);
  const answer = await page.goto(url);
  expect(answer.status(), `GET ${url}`).toBe(200);
  await page.pdf({ path: file, preferCSSPageSize: true, printBackground: true, format });

  const { stdout: about } = await run('pdfinfo', ['-f', '1', '-l', '-1', file]);
  expect(Number(/^Pages:\s+(\d+)/m.exec(about)[1]), `pages of ${url}`).toBe(pages);
  const sizes = [...about.matchAll(/^Page\s+\d+ size:\s+([\d.]+) x ([\d.]+) pts/gm)];
  expect(sizes.length, `sizes that pdfinfo told of ${url}`).toBe(pages);
  for (const [, across, down] of sizes) {
    const mm = { width: across * MM_PER_POINT, height: down * MM_PER_POINT };
    const told = `${url} is ${mm.width.toFixed(1)} x ${mm.height.toFixed(1)} mm, not ${width} x ${height}`;
    expect(Math.abs(mm.width - width), told).toBeLessThanOrEqual(WITHIN_MM);
    expect(Math.abs(mm.height - height), told).toBeLessThanOrEqual(WITHIN_MM);
  }
  if (smallest) {
    const { stdout: boxes } = await run('pdftotext', ['-bbox', file, '-']);
    const words = [...boxes.matchAll(/xMin="([\d.]+)" yMin="([\d.]+)" xMax="([\d.]+)" yMax="([\d.]+)">(.*?)</g)];
    expect(words.length, `words on ${url}`).toBeGreaterThan(20);
    // Words that are turned come letter by letter, and are left out.
    const small = words.filter(([, , top, , foot, word]) => word.length > 1 && (foot - top) / BOX < smallest);
    expect(small.map(([, , top, , foot, word]) => `${word} (${((foot - top) / BOX).toFixed(1)} pt)`), `words of ${url} too small to read`).toEqual([]);
  }
  const { stdout: text } = await run('pdftotext', ['-layout', file, '-']);
  return text;
}
