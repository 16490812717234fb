/** Addresses that hold a token are logged without it. */
const WITH_TOKEN = /^(\/(?:feeds|b|join|new-password)\/)[^/?]+?(\.(?:ics|atom))?(?=[/?]|$)/

export function loggedAddress(url: string): string {
  return url.replace(WITH_TOKEN, (_, before: string, ending = '') => `${before}(token)${ending}`)
}
