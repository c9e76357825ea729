// The owner's reports on paper: of the sheet's size, on as few pages as said, whole, and large enough to read.
import { expect, paper, signIn, test } from './support/shop.js';

test.skip(({ viewport }) => viewport.width < viewport.height, 'paper is the same however the tablet is held');

const A4 = { width: 210, height: 297, format: 'A4' };
const LETTER = { width: 215.9, height: 279.4, format: 'Letter' };
// In points: the names of months in the smallest picture; the rest is larger.
const SMALLEST = 6;

for (const [path, pages, words] of [
  ['/month?from=2026-01&to=2026-01', 2, ['The month of January 2026', 'were inspected', 'Of 100 inspected in each month of the year', 'Confirmed']],
  ['/month?from=2025-02&to=2026-01', 2, ['February 2025 to January 2026', 'Comebacks', 'Steps done']],
  ['/comebacks', 1, ['Comebacks', 'still watched', '430 days', 'All together', 'Kaplan and']],
  ['/comebacks?by=technician', 1, ['For your eyes only', 'still watched']],
  ['/work', 2, ['Time and money', 'What steps took', 'to be expected']],
  ['/air', 2, ['The air', 'air of 60 %', 'What cannot move, cracks or opens', 'FPL-GTR-282']],
  ['/air?width_mm=440&wood=spruce&cut=quarter', 2, ['440 mm wide', 'Across the plate', 'tenths of a millimetre']],
]) {
  test(`${path} is printed on ${pages === 1 ? 'one page' : `${pages} pages`}`, async ({ page, shop }) => {
    await signIn(page, shop, 'owner');
    for (const sheet of [A4, LETTER]) {
      const text = (await paper(page, path, { ...sheet, pages, smallest: SMALLEST })).replace(/\s+/g, ' ');
      for (const said of words) expect(text, `${path} on ${sheet.format}`).toContain(said);
      // What only a hand would do is left out.
      for (const screen of ['Read the hygrometer', 'The figures as CSV', 'Print', 'How far would it move']) expect(text).not.toContain(screen);
    }
  });
}
