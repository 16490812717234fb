/**
 * A press that led back to its own page: there it is said why. The address carries one of these words and no text, so that nobody can put
 * a sentence of theirs on the page.
 */
const SAYS = {
  'too-old': 'That button was too old: press it once more.',
  confirmed: 'Your password is confirmed: press the button once more.',
} as const

export function pressMark(what: keyof typeof SAYS): string {
  return `press=${what}`
}

/** Empty where the address carries none of the words. */
export function pressSays(query: unknown): string {
  const { press } = query as Record<string, unknown>
  return press === 'too-old' || press === 'confirmed' ? SAYS[press] : ''
}
