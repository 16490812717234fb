/** Addresses as they may stand in a log: without the tokens that some of them hold, and without what was asked for in them. */
const WITH_TOKEN = /^(\/(?:feeds|b|join|new-password)\/)[^/?]+?(\.(?:ics|atom))?(?=[/?]|$)/
const MOST_characters = 300

export function loggedAddress(url: string): string {
  const [path = '', query] = url.split('?', 2)
  const told = path.replace(WITH_TOKEN, (_, before: string, ending = '') => `${before}(token)${ending}`)
  return `${told.slice(0, MOST_characters)}${query === undefined ? '' : '?…'}`
}
