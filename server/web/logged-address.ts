/** Addresses as they may stand in a log: without the tokens that some of them hold, and without what was asked for in them. */
const WITH_TOKEN = /^(\/(?:feeds|join|new-password)\/)(?!revocations$)[^/?]+?(\.(?:ics|atom))?(?=[/?]|$)/
const FEED_FILE = /^\/feeds\/[^/]+\.(ics|atom)$/
/** Also in capitals, with more slashes or as a whole address: none of these opens anything, and the token stands in it all the same. */
const BUILD_PAGE = /^([a-z][a-z0-9+.-]*:\/\/[^/?#]*)?\/+b(?=[/?#]|$)/i
/** What comes after a token is told where it is too short to be one. */
const PAGE_OF = /^\/b\/[^/?]+(\/(?:p\/[\w.-]{1,20}|[a-z]{1,20}))(?=\?|$)/
const MOST_characters = 300

export function loggedAddress(url: string): string {
  if (BUILD_PAGE.test(plain(url))) return `/b/(token)${PAGE_OF.exec(url)?.[1] ?? ''}`
  const [path = '', query] = url.split('?', 2)
  const told = path.replace(WITH_TOKEN, (_, before: string, ending = '') => `${before}(token)${ending}`)
  return `${told.slice(0, MOST_characters)}${query === undefined ? '' : '?…'}`
}

/** Whether who asks is known by the address alone: no cookie is read or set there. */
export function isByToken(url: string): boolean {
  return FEED_FILE.test(url.split('?')[0] as string) || BUILD_PAGE.test(plain(url))
}

/** As the router reads it: `%62` is a b too. */
function plain(url: string): string {
  return url.replaceAll(/%[0-7][0-9a-f]/gi, (escaped) => String.fromCharCode(Number.parseInt(escaped.slice(1), 16)))
}
