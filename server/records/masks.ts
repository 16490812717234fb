/**
 * Leaves known private words out of what somebody wrote: a number plate in a title, a name in a caption. It finds what is recorded and what
 * has the shape of an address or a sum of money. It cannot find everything: whoever hands a page over reads it first.
 */

export type Mask = {
  /** for names of things: what identifies the vehicle, and people */
  readonly name: (text: string) => string
  /** for sentences in somebody's own words: all of that, and suppliers, places, addresses and sums of money */
  readonly words: (text: string) => string
}

/** What stands where something was left out. */
export const LEFT_OUT = '[left out]'

/** Values to leave out, as they are recorded; `addresses` and `prices` also by their shape. */
export function maskOf(out: {
  readonly numbers: readonly string[]
  readonly names: readonly string[]
  readonly suppliers: readonly string[]
  readonly places: readonly string[]
  readonly addresses: readonly string[] | null
  readonly prices: boolean
}): Mask {
  const named = [...out.numbers.flatMap(numberShape), ...out.names.flatMap(nameShapes)]
  const written = [
    ...named,
    ...[...out.suppliers, ...out.places].flatMap((one) => wholeWords(one, 'giu')),
    ...(out.addresses === null ? [] : [...out.addresses.flatMap((one) => wholeWords(one, 'giu')), ...ADDRESSES]),
    ...(out.prices ? MONEY : []),
  ]
  return { name: without(named), words: without(written) }
}

/** "3 May 2024": a day alone is nobody's name, whatever the month is called. */
export function isDayAlone(text: string): boolean {
  return /^\d{1,2} [A-Z][a-z]+ \d{4}$/.test(text)
}

function without(shapes: readonly RegExp[]): (text: string) => string {
  const hasAny = anyOf(shapes)
  return (text) => (hasAny(text) ? shapes.reduce((rest, shape) => rest.replace(shape, LEFT_OUT), text) : text)
}

/** Most texts hold nothing private: they are walked through once for many shapes, and not once for each. */
function anyOf(shapes: readonly RegExp[]): (text: string) => boolean {
  const flags = [...new Set(shapes.map((shape) => shape.flags))]
  const together = flags.flatMap((one) => {
    const alike = shapes.filter((shape) => shape.flags === one)
    return [...wordsTogether(alike.filter(isWord)), ...othersTogether(alike.filter((shape) => !isWord(shape)))].map(
      (source) => new RegExp(source, one.replace('g', '')),
    )
  })
  return (text) => together.some((shape) => shape.test(text))
}

/** What stands around every word is asked once, so that words of one beginning are tried together. */
function wordsTogether(shapes: readonly RegExp[]): readonly string[] {
  const words = shapes.map(({ source }) => source.slice(WORD_BEFORE.length, -WORD_AFTER.length))
  return inRuns(words).map((run) => `${WORD_BEFORE}(?:${run.join('|')})${WORD_AFTER}`)
}

function othersTogether(shapes: readonly RegExp[]): readonly string[] {
  return inRuns(shapes.map(({ source }) => `(?:${source})`)).map((run) => run.join('|'))
}

function inRuns(all: readonly string[]): readonly (readonly string[])[] {
  const runs = Math.ceil(all.length / MOST_TOGETHER)
  return Array.from({ length: runs }, (_, n) => all.slice(n * MOST_TOGETHER, (n + 1) * MOST_TOGETHER))
}

function isWord({ source }: RegExp): boolean {
  return source.startsWith(WORD_BEFORE) && source.endsWith(WORD_AFTER)
}

const WORD_BEFORE = '(?<![\\p{L}\\p{N}])'
const WORD_AFTER = '(?![\\p{L}\\p{N}])'
/** A household may have thousands of places, and an expression of all of them would be refused as too large. */
const MOST_TOGETHER = 100

/** However it is spaced, hyphenated or capitalised. One or two signs are no number: they would be found everywhere. */
function numberShape(value: string): readonly RegExp[] {
  const signs = [...value].filter((one) => /[\p{L}\p{N}]/u.test(one))
  if (signs.length < (signs.every((one) => /\d/.test(one)) ? 4 : 3)) return []
  return [new RegExp(`${WORD_BEFORE}${signs.map(escaped).join('[\\s./·-]*')}${WORD_AFTER}`, 'giu')]
}

/** The whole name in any capitals, and each of its words as it is written: "Robin Oak" is also "Robin". */
function nameShapes(name: string): readonly RegExp[] {
  const pieces = name.split(/[\s.,]+/).filter((one) => [...one].length >= 3)
  return [...wholeWords(name, 'giu'), ...pieces.flatMap((one) => wholeWords(one, 'gu'))]
}

function wholeWords(value: string, flags: string): readonly RegExp[] {
  const words = value
    .trim()
    .split(/\s+/)
    .filter((one) => one !== '')
  if (words.join('').length < 3) return []
  return [new RegExp(`${WORD_BEFORE}${words.map(escaped).join('\\s+')}${WORD_AFTER}`, flags)]
}

function escaped(text: string): string {
  return text.replaceAll(/[.*+?^${}()|[\]\\/]/g, '\\$&')
}

const STREET = 'Street|St|Road|Rd|Lane|Ln|Avenue|Ave|Drive|Close|Court|Crescent|Gardens|Terrace|Grove|Hill|Row|Mews'
/** Mail, telephone, a place on the map, a house in a street (English and German order). By shape alone: common practice, not a standard. */
const ADDRESSES: readonly RegExp[] = [
  /[\p{L}\p{N}._%+-]{1,64}@[\p{L}\p{N}.-]{1,190}\.\p{L}{2,24}/giu,
  /(?<![\p{L}\p{N}])(?:\+|00)\d[\d\s()/.-]{6,18}\d(?!\d)/gu,
  /(?<![\p{L}\p{N}.-])\(?0\d{1,5}\)?[\s/-]\d[\d\s/-]{4,12}\d(?!\d)/gu,
  /(?<![\d.])-?\d{1,2}\.\d{3,10}°?\s?[NS]?\s?[,;]\s?-?\d{1,3}\.\d{3,10}°?\s?[EW]?/gu,
  new RegExp(`(?<![\\p{L}\\p{N}])\\d{1,5}[a-z]?,?\\s(?:\\p{Lu}[\\p{L}'’-]{1,40}\\s){1,3}(?:${STREET})(?![\\p{L}\\p{N}])`, 'gu'),
  /(?<![\p{L}\p{N}])\p{Lu}[\p{L}-]{1,40}(?:straße|strasse|str\.|weg|gasse|platz)\s\d{1,4}\s?[a-z]?(?![\p{L}\p{N}])/gu,
]

/** A figure beside the sign or the code of a currency (ISO 4217; the usual ones). */
const MONEY: readonly RegExp[] = [
  /[€£$¥]\s?\d(?:[\d.,' ]{0,15}\d)?/gu,
  /(?<![\p{L}\p{N}])\d(?:[\d.,']{0,15}\d)?\s?(?:[€£$¥]|(?:EUR|USD|GBP|CHF|SEK|NOK|DKK|PLN|CZK|JPY|AUD|CAD|NZD|euros?|pounds?|dollars?)(?!\p{L}))/giu,
]
