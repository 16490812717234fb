/**
 * Addresses as they may stand in a log: without the tokens that some of them hold, and without what was asked for in them. An address that
 * is spelt oddly opens nothing, or opens the same, and its token stands in it all the same; so nothing here depends on how it is spelt.
 */
const PLACES = ['b', 'feeds', 'join', 'new-password']
const FEED_FILE = /^\/feeds\/[^/]+\.(ics|atom)$/
/** Also in capitals, with more slashes or as a whole address. */
const BUILD_PAGE = /^([a-z][a-z0-9+.-]*:\/\/[^/?#]*)?\/+b(?=[/?#]|$)/i
/** What comes after a token is told where it is too short to be one. */
const PAGE_OF = /^\/b\/[^/?]+(\/(?:p\/[\w.-]{1,20}|[a-z]{1,20}))(?=\?|$)/
/** A token has 43 characters of base64url: four of them tell nothing. */
const TELLS_NOTHING_characters = 4
/** As many together, wherever they stand, may be one, or what was lost of one on the way; an id and a backup's moment are none. */
const LONG_RUN = /[\w-]{20,}/g
const ID_OR_MOMENT = /^([0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}|\d{4}-\d\d-\d\dT[\d-]+Z)$/
/** Such as a part's key: of 43 random characters some is a capital, but for one token in five thousand millions. */
const WORDS = /^[a-z]+(-([a-z]+|\d{1,3}))*$/
const MOST_characters = 300

export function loggedAddress(url: string): string {
  if (BUILD_PAGE.test(plain(url))) return `/b/(token)${PAGE_OF.exec(url)?.[1] ?? ''}`
  const [path = '', query] = url.split('?', 2)
  const spelt = whollyPlain(path)
  const told = withoutTokens(spelt)
  // Unchanged it is told as it came.
  return `${(told === spelt ? path : printable(told)).slice(0, MOST_characters)}${query === undefined ? '' : '?…'}`
}

/** Whether who asks is known by the address alone: no cookie is read or set there. */
export function isByToken(url: string): boolean {
  return FEED_FILE.test(url.split('?')[0] as string) || BUILD_PAGE.test(plain(url))
}

/** What follows the name of a place, at the top or anywhere below, and whatever is as long as a token. */
function withoutTokens(path: string): string {
  const pieces = path.split(/[/\\]+/)
  const at = pieces.findIndex((piece) => PLACES.includes(piece.trim().toLowerCase()))
  // At the top it is the place itself, and the next piece the token, however short; what else follows a name may be a word of another page.
  const isAtTop = pieces.slice(0, at).every((piece) => piece === '')
  return pieces
    .map((piece, n) => {
      if (at < 0 || n <= at) return withoutLongRuns(piece)
      const isToken = isAtTop && n === at + 1 && piece !== '' && piece !== 'revocations'
      const [stem = '', ending = ''] = endingOf(piece)
      return isToken || (stem.length > TELLS_NOTHING_characters && piece !== 'revocations') ? `(token)${ending}` : piece
    })
    .join('/')
}

function withoutLongRuns(piece: string): string {
  return piece.replaceAll(LONG_RUN, (run) => (ID_OR_MOMENT.test(run) || WORDS.test(run) ? run : '(token)'))
}

function endingOf(piece: string): readonly string[] {
  const found = /^(.*?)(\.(?:ics|atom))?$/s.exec(piece)
  return [found?.[1] ?? '', found?.[2] ?? '']
}

/** As the router reads it: `%62` is a b too. */
function plain(url: string): string {
  return url.replaceAll(/%[0-7][0-9a-f]/gi, (escaped) => String.fromCharCode(Number.parseInt(escaped.slice(1), 16)))
}

/** However often it was escaped; a % that stands for nothing stays. Each round is shorter, so there is a last one. */
function whollyPlain(path: string): string {
  const next = plain(path.replaceAll(/%(25)+(?=[0-9a-f]{2})/gi, '%'))
  return next === path ? path : whollyPlain(next)
}

/** Within one line, and nothing in it that a reader of the log would take for something else. */
function printable(path: string): string {
  return path.replaceAll(/[^!-~]/gu, (sign) => [...Buffer.from(sign)].map((byte) => `%${byte.toString(16).padStart(2, '0')}`).join(''))
}
