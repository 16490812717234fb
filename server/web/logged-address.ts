/** Addresses that hold a token: known as such however they are written, and logged without it. */
const FEED = /^(\/feeds\/)[^/?]+?(\.(?:ics|atom))?(?=[/?]|$)/
const FEED_FILE = /^\/feeds\/[^/]+\.(ics|atom)$/
/** Also in capitals, with more slashes or as a whole address: none of these opens anything, and the token stands in it all the same. */
const BUILD_PAGE = /^([a-z][a-z0-9+.-]*:\/\/[^/?#]*)?\/+b(?=[/?#]|$)/i

export function loggedAddress(url: string): string {
  return BUILD_PAGE.test(plain(url)) ? '/b/(token)' : url.replace(FEED, (_, before: string, ending = '') => `${before}(token)${ending}`)
}

/** Whether who asks is known by the address alone: no cookie is read or set there. */
export function isByToken(url: string): boolean {
  return FEED_FILE.test(url.split('?')[0] as string) || BUILD_PAGE.test(plain(url))
}

/** As the router reads it: `%62` is a b too. */
function plain(url: string): string {
  return url.replaceAll(/%[0-7][0-9a-f]/gi, (escaped) => String.fromCharCode(Number.parseInt(escaped.slice(1), 16)))
}
