// Listens to every page of a context: faults in scripts, what lands on the console, what the security policy refused,
// and requests that leave the shop.
export async function watch(context, address) {
  const heard = [];
  const expected = [];
  const note = (kind, text, where) => heard.push(`${kind}: ${text}${where ? ` (${where})` : ''}`);

  context.on('console', (message) => {
    if (message.type() === 'error') note('console', message.text(), message.location().url);
  });
  context.on('weberror', (fault) => note('script', fault.error().stack || fault.error().message));
  context.on('request', (request) => {
    const url = new URL(request.url());
    if (['http:', 'https:'].includes(url.protocol) && url.origin !== address) note('another host', request.url(), request.frame().url());
  });
  context.on('page', (page) => {
    page.on('crash', () => note('crash', page.url()));
    page.on('websocket', (socket) => {
      if (new URL(socket.url()).host !== new URL(address).host) note('another host', socket.url(), page.url());
    });
  });
  await context.exposeBinding('__refused', (_, text, where) => note('security policy', text, where));
  await context.addInitScript(() => {
    document.addEventListener('securitypolicyviolation', (refused) => {
      window.__refused(`${refused.effectiveDirective} refused ${refused.blockedURI || 'inline'} ${refused.sample}`.trim(), document.URL);
    });
  });

  return {
    heard,
    expect: (pattern) => expected.push(pattern),
    settle() {
      const missing = expected.filter((pattern) => !heard.some((line) => pattern.test(line)));
      const unwanted = heard.filter((line) => !expected.some((pattern) => pattern.test(line)));
      const lines = [...unwanted, ...missing.map((pattern) => `expected, and not heard: ${pattern}`)];
      if (lines.length) throw new Error(`The pages complained:\n  ${lines.join('\n  ')}`);
    },
  };
}
