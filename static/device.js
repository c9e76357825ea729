// What this device likes, read before the first page is drawn so that nothing flashes in another light.
try {
  const { theme, hand } = localStorage;
  if (["light", "dark", "workshop"].includes(theme)) document.documentElement.dataset.theme = theme;
  if (hand === "left") document.documentElement.dataset.hand = hand;
} catch {
  // A browser that keeps nothing shows what the device says.
}
