// axe on the page as it stands: WCAG 2.2 to level AA and what axe calls best practice. Nothing is left out.
import AxeBuilder from '@axe-core/playwright';

const TAGS = ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'];

export async function noViolations(page) {
  const { violations, passes } = await new AxeBuilder({ page }).withTags(TAGS).analyze();
  if (passes.length === 0) throw new Error(`axe found nothing to look at on ${page.url()}`);
  if (violations.length === 0) return;
  const told = violations.map(({ id, impact, help, nodes }) => {
    const where = nodes.map((node) => `    ${node.target.join(' ')}\n      ${node.html}\n      ${node.failureSummary.replace(/\s*\n\s*/g, ' ')}`);
    return `  ${id} (${impact}): ${help}\n${where.join('\n')}`;
  });
  throw new Error(`axe on ${page.url()}:\n${told.join('\n')}`);
}
