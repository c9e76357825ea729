// A page as the printer gets it: printed to PDF at the size its style sheet asks for, measured, and read back.
import { execFile } from 'node:child_process';
import { promisify } from 'node:util';
import { expect, test } from '@playwright/test';

const run = promisify(execFile);
const MM_PER_POINT = 25.4 / 72;
const WITHIN_MM = 0.5;

// `width` and `height` in mm. Answers the text on the paper.
export async function paper(page, url, { width, height, pages = 1 }) {
  const file = test.info().outputPath(`${url.replace(/\W+/g, '-')}.pdf`);
  const answer = await page.goto(url);
  expect(answer.status(), `GET ${url}`).toBe(200);
  await page.pdf({ path: file, preferCSSPageSize: true, printBackground: true });

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
  const { stdout: text } = await run('pdftotext', ['-layout', file, '-']);
  return text;
}
