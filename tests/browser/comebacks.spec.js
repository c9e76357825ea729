// The comebacks: the owner finds them below the month, looks at them each way, reads the curves and takes the figures along.
import { readFile } from 'node:fs/promises';
import { expect, noViolations, signIn, test } from './support/shop.js';

const TICKS = 6; // days at which it is told how many are still watched

// What stands under the curves: a row for each curve, with its name and how many are watched at each tick.
async function watched(page) {
  return page.locator('svg.chart.tall').evaluate((svg) => {
    const texts = [...svg.querySelectorAll('text')].map((text) => ({ x: Number(text.getAttribute('x')), y: Number(text.getAttribute('y')), words: text.textContent }));
    const below = texts.filter(({ y }) => y > texts.find(({ words }) => words === 'still watched').y);
    const rows = Map.groupBy(below, ({ y }) => y);
    return [...rows.values()].map((row) => {
      const [name, ...counts] = row.sort((one, other) => other.x - one.x).map(({ words }) => words);
      return { name, counts: counts.reverse().map((count) => Number(count.replaceAll(',', ''))) };
    });
  });
}

async function csv(page, name) {
  const waiting = page.waitForEvent('download');
  await page.getByRole('link', { name, exact: true }).click();
  const [head, ...rows] = (await readFile(await (await waiting).path(), 'utf8')).trim().split('\n').map((line) => line.trim().match(/("([^"]|"")*"|[^,]*)(,|$)/g).map((cell) => cell.replace(/,$/, '').replace(/^"|"$/g, '')));
  return rows.map((row) => Object.fromEntries(head.map((word, at) => [word, row[at]])));
}

test('the owner looks at the comebacks each way, with their curves, intervals and numbers still watched', async ({ page, shop }) => {
  test.slow(); // axe looks at long pages several times
  await signIn(page, shop, 'owner');
  await page.goto('/month');
  await page.getByRole('link', { name: 'Comebacks', exact: true }).click();
  await expect(page.getByRole('heading', { level: 1 })).toHaveText('Comebacks');
  await expect(page.locator('.report-part.lead')).toContainText(/Of [\d,]+ repairs [\d,]+ came back so far/);
  await noViolations(page);
  for (const [by, head] of [['job', 'Main job'], ['age', 'Age at intake'], ['season', 'Season of the intake'], ['technician', 'Technician'], ['cause', 'Cause']]) {
    await page.getByLabel('By', { exact: true }).selectOption({ label: by });
    await page.getByRole('button', { name: 'Show' }).click();
    await expect(page.getByRole('columnheader', { name: head })).toBeVisible();
    const curves = await watched(page);
    expect(curves.length, by).toBeGreaterThan(1);
    expect(await page.locator('svg.chart.tall .band').count(), `intervals by ${by}`).toBeGreaterThan(0);
    for (const { name, counts } of curves) {
      expect(counts.length, name).toBe(TICKS);
      expect(counts[0], name).toBeGreaterThan(0);
      for (const [at, count] of counts.entries()) expect(count, name).toBeLessThanOrEqual(counts[Math.max(at - 1, 0)]);
    }
    await expect(page.locator('.report-part.lead')).toContainText(by === 'technician' ? 'For your eyes only' : 'repairs');
  }
  await noViolations(page);
});

test('what is drawn is what the tables to take along say', async ({ page, shop }) => {
  await signIn(page, shop, 'owner');
  await page.goto('/comebacks?by=season');
  const curves = await watched(page);
  const groups = await csv(page, 'groups');
  for (const { name, counts } of curves) {
    const group = groups.find((row) => row.name === name);
    expect(group, name).toBeTruthy();
    expect([counts[0], counts[1], counts[4]], name).toEqual([group.repaired, group.at_risk_90, group.at_risk_365].map(Number));
  }
  const steps = await csv(page, 'curves');
  for (const { name } of curves) {
    const of = steps.filter((row) => row.name === name).map((row) => Number(row.survival));
    expect(of.length, name).toBeGreaterThan(0);
    expect(of.every((survival, at) => survival <= (of[at - 1] ?? 1)), name).toBe(true);
  }
  const every = await csv(page, 'every repair, without names');
  expect(every.length).toBe(Number(groups.at(-1).repaired));
});

test('one cause is looked at alone, and a day that is none is said at its field', async ({ page, shop, complaints }) => {
  await signIn(page, shop, 'owner');
  await page.goto('/comebacks');
  const cause = await page.locator('table.figures tbody th').first().innerText();
  await page.getByLabel('Cause', { exact: true }).selectOption({ label: cause });
  await page.getByRole('button', { name: 'Show' }).click();
  await expect(page.getByRole('heading', { level: 1 })).toHaveText(`Comebacks: ${cause}`);
  await noViolations(page);
  complaints.expect(/status of 422/);
  await page.goto('/comebacks?as_of=soon');
  await expect(page.locator('.problems')).toContainText('Write a day');
  await noViolations(page);
});

test('the bench does not see the comebacks', async ({ page, shop, complaints }) => {
  complaints.expect(/^console: Failed to load resource: .* status of 403 /);
  await signIn(page, shop, 'bench');
  await page.goto('/comebacks');
  await expect(page.locator('main')).toContainText('Ask the owner');
});
