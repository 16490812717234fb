/**
 * A page as a browser's parser takes it apart: the states of the HTML standard's tokenizer (13.2.5) that begin and end tags, attributes and
 * text. Unlike a pattern that knows our own tags it also sees `<B onclick=x>`, `<svg/onload=x>` and an attribute without quotes.
 */
export type Token =
  | { readonly is: 'start'; readonly name: string; readonly attributes: ReadonlyMap<string, string> }
  | { readonly is: 'end'; readonly name: string }
  | { readonly is: 'text'; readonly text: string }
  | { readonly is: 'comment'; readonly text: string }

/** 13.2.6: within these "<" begins no tag but their own end. In the first two "&" is still read as one. */
const PLAIN_INSIDE = ['title', 'textarea', 'style', 'script', 'xmp', 'iframe', 'noembed', 'noframes', 'noscript']

export function parsed(markup: string): readonly Token[] {
  const tokens: Token[] = []
  let at = 0
  const text = (to: number, isPlain = false) => {
    if (to > at) tokens.push({ is: 'text', text: isPlain ? markup.slice(at, to) : readable(markup.slice(at, to)) })
    at = to
  }
  for (let open = 0; at < markup.length; ) {
    open = markup.indexOf('<', Math.max(open, at))
    if (open < 0) {
      text(markup.length)
      break
    }
    const rest = markup.slice(open + 1, open + 3)
    if (/^\/?[a-z]/i.test(rest)) {
      text(open)
      const { token, next } = tagAt(markup, open)
      at = next
      tokens.push(token)
      if (token.is === 'start' && PLAIN_INSIDE.includes(token.name)) {
        const end = new RegExp(`</${token.name}[\\s/>]`, 'gi')
        end.lastIndex = at
        text(end.exec(markup)?.index ?? markup.length, !['title', 'textarea'].includes(token.name))
      }
      open = at
    } else if (/^[!?]|^\/[^a-z]/i.test(rest)) {
      text(open)
      const isComment = markup.startsWith('<!--', open)
      const end = isComment ? markup.indexOf('-->', open + 4) : markup.indexOf('>', open)
      at = end < 0 ? markup.length : end + (isComment ? 3 : 1)
      tokens.push({ is: 'comment', text: markup.slice(open, at) })
      open = at
    } else open += 1
  }
  return tokens
}

/** Which elements, with which attributes, in which order: all but what they say. */
export function structureOf(markup: string): readonly string[] {
  return parsed(markup).flatMap((token) => {
    if (token.is === 'text') return []
    if (token.is === 'comment') return [token.text.startsWith('<!--') ? '<!-- -->' : token.text]
    return [token.is === 'end' ? `</${token.name}>` : `<${[token.name, ...token.attributes.keys()].join(' ')}>`]
  })
}

/** What is read on the page, and what its attributes hold. */
export function saidOn(markup: string): readonly string[] {
  return parsed(markup).flatMap((token) => (token.is === 'start' ? [...token.attributes.values()] : 'text' in token ? [token.text] : []))
}

function tagAt(markup: string, open: number): { readonly token: Token; readonly next: number } {
  const isEnd = markup[open + 1] === '/'
  const named = /[^\s/>]*/y
  named.lastIndex = open + (isEnd ? 2 : 1)
  const name = (named.exec(markup)?.[0] ?? '').toLowerCase()
  let at = named.lastIndex
  const attributes = new Map<string, string>()
  while (at < markup.length && markup[at] !== '>') {
    const attribute = /[\s/]*(=?[^\s/>=]*)(?:\s*=\s*(?:"([^"]*)(?:"|$)|'([^']*)(?:'|$)|([^\s>]*)))?/y
    attribute.lastIndex = at
    const found = attribute.exec(markup)
    at = Math.max(attribute.lastIndex, at + (attribute.lastIndex === at ? 1 : 0))
    const key = (found?.[1] ?? '').toLowerCase()
    if (key !== '' && !attributes.has(key)) attributes.set(key, readable(found?.[2] ?? found?.[3] ?? found?.[4] ?? ''))
  }
  return { token: isEnd ? { is: 'end', name } : { is: 'start', name, attributes }, next: Math.min(at + 1, markup.length) }
}

const NAMED: Readonly<Record<string, string>> = { amp: '&', lt: '<', gt: '>', quot: '"', apos: "'" }

/** What stands there as a reader meets it: numbers, and the names that this product writes. */
function readable(text: string): string {
  return text.replaceAll(/&(?:#x([0-9a-f]+)|#(\d+)|(amp|lt|gt|quot|apos));?/gi, (_, hex?: string, number?: string, name?: string) =>
    name === undefined
      ? String.fromCodePoint(Math.min(0x10ffff, Number.parseInt(hex ?? (number as string), hex === undefined ? 10 : 16)))
      : (NAMED[name.toLowerCase()] as string),
  )
}
