// A shop's first day: it is set up by its link, and whatever is typed into it is shown as text.
import { readFileSync } from 'node:fs';
import { emptyTest as test, expect, noViolations, signIn } from './support/shop.js';
import { answerQuestion } from './support/take_in.js';

const { strings } = JSON.parse(readFileSync(new URL('../data/bad_strings.json', import.meta.url), 'utf8'));
const OWNER = { name: 'Wilhelmine', password: 'four pegs and a post', roles: ['owner', 'counter', 'bench'] };

async function setUp(page, shop) {
  await page.goto(shop.link);
  await noViolations(page);
  await page.locator('[name="name"]').fill('Elm Court Strings');
  await page.locator('[name="address"]').fill('1 Elm Court\nUnderhill');
  await page.locator('[name="phone"]').fill('01 555 0111');
  await expect(page.locator('[name="zone"]'), 'where this device is').not.toHaveValue('');
  await page.locator('[name="labour_rate"]').fill('70');
  await page.locator('[name="tax_labour"]').fill('20');
  await page.locator('[name="tax_parts"]').fill('20');
  await page.locator('[name="owner"]').fill(OWNER.name);
  await page.locator('[name="password"]').fill(OWNER.password);
  await page.getByRole('button', { name: 'Open the shop' }).click();
  await expect(page).toHaveURL(`${shop.address}/`);
  shop.people.push(OWNER);
}

test('the link makes the shop and its owner, once', async ({ page, shop, complaints }) => {
  test.setTimeout(120_000);
  complaints.expect(/^console: Failed to load resource: .* status of (404|410|422) /);
  await page.goto('/');
  await expect(page).toHaveURL(/\/sign-in/);
  await page.goto(shop.link);
  await page.locator('[name="name"]').fill('Elm Court Strings');
  await page.locator('[name="password"]').fill('short');
  await page.getByRole('button', { name: 'Open the shop' }).click();
  await expect(page.locator('.problems')).toBeFocused();
  await expect(page.locator('[name="name"]')).toHaveValue('Elm Court Strings');
  await expect(page.locator('[name="password"]')).toHaveValue('');
  await noViolations(page);

  await setUp(page, shop);
  await expect(page.locator('.mast')).toContainText('Elm Court Strings');
  await noViolations(page);
  const words = ['questions/new', 'questions/onset', 'questions/onset/change', 'causes/nut_loose/answers', 'causes/nut_loose/answers/onset', 'jobs/new'];
  for (const path of ['/bench', '/month', '/catalogue', '/staff', ...words.map((page) => `/catalogue/${page}`)]) {
    await page.goto(path);
    await noViolations(page);
  }
  await page.goto(shop.link);
  await expect(page.locator('h1'), 'the link is used up').toHaveText('Not any more');

  await page.context().clearCookies();
  await signIn(page, shop, 'owner');
  await expect(page).toHaveURL(`${shop.address}/`);
  await expect(page.getByRole('link', { name: 'Today', exact: true })).toHaveAttribute('aria-current', 'page');
});

// What a page must not hold, whatever was typed: anything that runs, loads or leads away and is not our own.
const amiss = () => {
  const found = [...document.querySelectorAll('script, iframe, base, style, math, img, svg, form, a, meta[http-equiv], *')].filter((element) => {
    if ([...element.attributes].some(({ name }) => name.startsWith('on'))) return true;
    const leads = ['src', 'href', 'action', 'formaction'].map((name) => element.getAttribute(name)).filter(Boolean);
    if (leads.some((to) => /^\s*(javascript|data):/i.test(to) || to.includes('evil'))) return true;
    if (element.matches('script')) return !element.src.includes('/static/');
    return element.matches('iframe, base, style, math, meta[http-equiv], img[src="x"]');
  });
  return found.map((element) => element.outerHTML.slice(0, 200));
};

test('what is typed anywhere is shown as text everywhere', async ({ page, shop }) => {
  test.setTimeout(240_000);
  page.setDefaultTimeout(10_000);
  if (shop.people.length === 0) await setUp(page, shop);
  else await signIn(page, shop, 'owner');
  const asked = [];
  page.on('dialog', (dialog) => {
    asked.push(dialog.message());
    dialog.dismiss();
  });

  // Each page once: nothing of it runs, and what it should tell stands there letter by letter.
  const shows = async (path, told) => {
    const answer = await page.goto(path);
    expect(answer.status(), path).toBe(200);
    expect(await page.evaluate(amiss), path).toEqual([]);
    const text = await page.evaluate(() => document.body.textContent.replace(/\s+/g, ' '));
    const missing = told.filter((words) => !text.includes(words.replace(/\s+/g, ' ').trim()));
    expect(missing, `not shown on ${path}`).toEqual([]);
    await page.mouse.move(400, 300); // for what would run when it is pointed at
  };
  const kept = strings.filter(({ field, class: kind }) => field === 'text' && ['html', 'sql', 'shell', 'printer', 'spreadsheet', 'bidi'].includes(kind));
  expect(kept.filter(({ class: kind }) => kind === 'html').length).toBeGreaterThan(20);
  let at = 0;
  // The next one that fits; every field gets markup first.
  const html = kept.filter(({ class: kind }) => kind === 'html').map(({ value }) => value);
  const others = kept.filter(({ class: kind }) => kind !== 'html').map(({ value }) => value);
  const all = [...html, ...others];
  const next = (longest = 60, fits = () => true) => {
    for (let tried = 0; tried < all.length; tried += 1) {
      const value = all[at % all.length];
      at += 1;
      if (value.length <= longest && fits(value)) return value;
    }
    throw new Error('none of them fits');
  };

  // The catalogue in hostile words.
  const question = { question: `${next()} 1?`, hint: next(), about: next(), words: [`${next(50)} a`, `${next(50)} b`] };
  await page.goto('/catalogue/questions/new');
  for (const field of ['question', 'hint', 'about']) await page.locator(`[name="${field}"]`).fill(question[field]);
  await page.locator('[name="kind"][value="words"]').check();
  for (const [row, words] of question.words.entries()) await page.locator('[name="words"]').nth(row).fill(words);
  await page.getByRole('button', { name: 'Add the question' }).click();
  await expect(page.locator('h1')).toHaveText(question.question);
  const code = new URL(page.url()).pathname.split('/').pop();
  const job = { name: `${next()} job`, step: next(), caution: next(), materials: next(60, (value) => !value.includes(';')) };
  await page.goto('/catalogue/jobs/new');
  await page.locator('[name="name"]').fill(job.name);
  await page.locator('[name="minutes_low"]').fill('5');
  await page.locator('[name="minutes_high"]').fill('9');
  await page.locator('[name="step"]').first().fill(job.step);
  await page.locator('[name="step_minutes"]').first().fill('6');
  await page.locator('[name="step_caution"]').first().fill(job.caution);
  await page.locator('[name="step_materials"]').first().fill(job.materials);
  await page.getByRole('button', { name: 'Add the job' }).click();
  await expect(page.locator('h1')).toHaveText(job.name);
  const jobPath = new URL(page.url()).pathname;
  const cause = { name: `${next()} cause`, how_it_sounds: next(), look: next(), remedy: next(), parts: next(60, (value) => !value.includes(';')), caution: next() };
  await page.goto('/catalogue/causes/nut_loose/change');
  for (const [field, words] of Object.entries(cause)) await page.locator(`[name="${field}"]`).fill(words);
  await page.getByRole('button', { name: 'Keep the cause' }).click();
  await expect(page.locator('h1')).toHaveText(cause.name);

  await shows('/catalogue', [cause.name, cause.how_it_sounds]);
  await shows('/catalogue/causes/nut_loose', [cause.look, cause.remedy, cause.caution, cause.parts]);
  await shows('/catalogue/causes/nut_loose/change', []);
  await shows('/catalogue/causes/nut_loose/answers', [cause.name, question.question]);
  await shows(`/catalogue/causes/nut_loose/answers/${code}`, [question.question, ...question.words]);
  await shows('/catalogue/jobs', [job.name]);
  await shows(jobPath, [job.name, job.step, job.caution, job.materials]);
  await shows(`${jobPath}/change`, []);
  await shows('/catalogue/questions', [question.question, question.hint, ...question.words]);
  await shows(`/catalogue/questions/${code}`, [question.about, ...question.words]);
  await shows(`/catalogue/questions/${code}/change`, []);

  // As many instruments as it takes for each of them to have been typed somewhere.
  for (let round = 0; round === 0 || at < all.length; round += 1) {
    const typed = {
      'customer.name': `${next()} ${round}`, 'customer.email': '', 'instrument.maker': next(), 'instrument.serial': next(40), 'instrument.marks': next(),
      'complaint.words': next(), also_left: next(40, (value) => !value.includes(',') && !value.includes(';')), condition: next(),
    };
    await page.goto('/intake');
    await page.evaluate(() => { for (const fold of document.querySelectorAll('details')) fold.open = true; });
    await page.locator('[name="instrument.family"][value="violin"]').check();
    await page.locator('[name="customer.kind"][value="school"]').check(); // a school is called by its whole name
    for (const [field, words] of Object.entries(typed)) await page.locator(`[name="${field}"]`).fill(words);
    const answer = page.locator(`[name="complaint.answers.${code}"]`).first();
    await answerQuestion(page, code, await answer.getAttribute('value'));
    await page.locator('[name="authorised_limit"]').fill('500');
    await page.getByRole('button', { name: 'Take it in', exact: true }).last().click();
    await expect(page).toHaveURL(/\/orders\/\d+\/papers$/);
    expect(await page.evaluate(amiss)).toEqual([]);
    const order = new URL(page.url()).pathname.replace(/\/papers$/, '');

    // At the bench: found, planned in words, done, played.
    const [note, title, part] = [next(), next(), next(40)];
    await page.goto(`${order}?cause=nut_loose#next`);
    await page.locator('#look-note').fill(note);
    await page.locator('.foot').getByRole('button', { name: 'Found it', exact: true }).click();
    await page.locator('.foot').getByRole('link', { name: /^(Something else|Plan a step)$/ }).click();
    await page.locator('#step-job').selectOption(jobPath.split('/').pop());
    await page.locator('#step-title').fill(title);
    await page.locator('#step-planned_minutes').fill('4');
    await page.locator('#step-part_name').fill(part);
    await page.locator('#step-part_price').fill('3');
    await page.locator('.foot').getByRole('button', { name: 'Plan it', exact: true }).click();
    const customer = await page.locator('a[href^="/customers/"]').first().getAttribute('href');
    await page.goto(customer);
    const instrument = await page.locator('a[href^="/instruments/"]').first().getAttribute('href');
    const { 'customer.name': name, 'instrument.maker': maker, 'complaint.words': words } = typed;
    await shows(order, [name, maker, words, typed['instrument.serial'], typed['instrument.marks'], typed.also_left, typed.condition,
      question.about, question.words[0], cause.name, note, title, part, job.caution]);
    for (const paper of ['tag', 'stub', 'summary', 'papers']) await shows(`${order}/${paper}`, []);
    await page.goto(order);
    await page.locator('.foot').getByRole('button', { name: 'Done', exact: true }).click();
    await page.locator('#play-note').fill(note);
    await page.locator('.foot').getByRole('button', { name: 'Quiet', exact: true }).click();
    await shows(`${order}/summary`, [words, title, part, cause.name]);
    await shows('/', [name]);
    await shows('/bench', []);
    await shows(customer, [name, maker]);
    await shows(instrument, [maker, typed['instrument.serial'], typed['instrument.marks']]);
    await shows(`/intake?customer=${customer.split('/').pop()}`, [name]);
    await shows(`${order}/pickup`, []);
  }
  const month = new Date().toISOString().slice(0, 7);
  await shows(`/month?from=${month}&to=${month}`, [cause.name, job.name]);
  await shows('/staff', []);
  expect(asked, 'no page asked anything').toEqual([]);
});
