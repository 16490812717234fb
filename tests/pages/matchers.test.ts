/** B36: whatever somebody's text is looked at with takes at most in proportion to its length, also for the texts that such things are slow on. */
import PDFDocument from 'pdfkit'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { parseText } from '../../server/document/parse.ts'
import { typeOf } from '../../server/pages/shared/pdf-type.ts'
import { fileNameOf } from '../../server/pages/shared/on-paper.ts'
import { slugOf } from '../../server/records/component-key.ts'
import { setEmail } from '../../server/records/identities.ts'
import { maskOf } from '../../server/records/masks.ts'
import { partChoices } from '../../server/records/part-choices.ts'
import { faultsOfPassword } from '../../server/records/passwords.ts'
import { folded } from '../../server/records/people.ts'
import { search, wordsOf } from '../../server/records/search.ts'
import { FormReader } from '../../server/web/form.ts'
import { loggedAddress } from '../../server/web/logged-address.ts'
import { faultOfTarget } from '../../server/web/outbound.ts'
import { plainLine } from '../../server/web/plain-text.ts'
import { localPath } from '../../server/web/session.ts'
import { type Book, openBook, tokenIn } from './book.ts'

let book: Book
beforeAll(async () => {
  book = await openBook({ demo: false })
})
afterAll(() => book.close())

/**
 * Where a matcher backs up it does so over what could have been matched in more than one way: one letter again and again, two by turns, and
 * almost what is looked for, again and again, without its end.
 */
const SHAPES: Readonly<Record<string, (length: number) => string>> = Object.fromEntries(
  [
    ...[
      'a',
      '1',
      ' ',
      '\t',
      '\n',
      '-',
      '.',
      ',',
      '/',
      '@',
      '<',
      '&',
      '"',
      "'",
      '\\',
      '%',
      '(',
      '[',
      '>',
      '|',
      ';',
      ':',
      '=',
      '+',
      '_',
      'é',
      '\u0301',
      '🚐',
    ],
    ...[
      '1,',
      '1.',
      'a.',
      'a-',
      'a ',
      ' a',
      '/a',
      'a@',
      'a@a.',
      '- ',
      '1 ',
      '0 1',
      '-1',
      '%2f',
      '//',
      '\\/',
      ' \n',
      '\r\n',
      '];',
      '<a',
      '&#',
      '"",',
      "O'",
      'AB ',
      'A1 A',
    ],
    ...['https://', 'a://', '/b/', 'Bearer ', '2026-', '1 Oak ', 'Oak-', '€1 ', '+1 ', '1.234,', '{"a":', '[[', 'm2 ', '\u0301\u0316'],
  ].map((one) => [one, (length: number) => `${one.repeat(Math.ceil(length / one.length)).slice(0, length)}!`]),
)

const mask = () => {
  const said = { numbers: ['AAA 111', '1-1-1-1'], names: ['A A A', 'Oak Oak Elm'], suppliers: ['a a b', '- - -'], places: ['1 1 2', '..a'] }
  return maskOf({ ...said, addresses: ['1 Oak Street', 'a, a, b'], prices: true })
}
const pdf = () => typeOf(new PDFDocument())
const inField = (read: (form: FormReader) => unknown) => (text: string) => read(new FormReader({ field: text }))

type Matcher = () => { readonly read: (text: string) => unknown; readonly most?: number }
/** What reads it, and the most letters that reach it, where that is less than all of a request. */
const MATCHERS: Readonly<Record<string, Matcher>> = {
  'a field of text': () => ({ read: inField((form) => form.text('field', { max: 1e9 })) }),
  'an amount': () => ({ read: inField((form) => form.number('field')) }),
  'a date': () => ({ read: inField((form) => form.date('field', { latest: '2026-11-25' })) }),
  'a choice': () => ({ read: inField((form) => form.choice('field', ['a', 'b'], 'a')) }),
  'a tick': () => ({ read: inField((form) => form.ticked('field')) }),
  'words to seek': () => ({ read: wordsOf }),
  'a search': () => ({ read: (text) => search(book.db, book.actor, { asked: text }) }),
  'a search among parts': () => ({ read: (words) => partChoices(book.db, book.actor, { words, kind: '', picked: '', limit: 20 }) }),
  'an e-mail address': () => ({
    read: (email) => setEmail(book.db, book.clock, book.actor, { personId: book.actor.personId, email: `${email} ` }),
  }),
  'where to go on': () => ({ read: localPath }),
  'where to go on, as a path': () => ({ read: (text) => localPath(`/${text}`) }),
  'an address that is logged': () => ({ read: loggedAddress, most: 16_384 }),
  'a path that is logged': () => ({ read: (text) => loggedAddress(`/b/${text}`), most: 16_384 }),
  'an address of a webhook': () => ({ read: (text) => faultOfTarget(`https://hooks.example/${text}`, { allowsPrivate: false }) }),
  'a line of a feed': () => ({ read: plainLine }),
  'a name of a file': () => ({ read: fileNameOf }),
  'a key of a component': () => ({ read: slugOf }),
  'a name of a person': () => ({ read: folded }),
  'a password': () => ({ read: (text) => faultsOfPassword(text, { name: text.slice(0, 80) }) }),
  'a note on a build page': () => {
    const { words } = mask()
    return { read: words, most: 20_000 }
  },
  'a name on a build page': () => {
    const { name } = mask()
    return { read: name, most: 20_000 }
  },
  'a vehicle’s document': () => ({ read: parseText }),
  'a name in a vehicle’s document': () => ({
    read: (text) =>
      parseText(JSON.stringify({ format: 'loombook-vehicle/1', vehicle: { name: text, systemVoltage_V: 12 }, parts: [], components: [] })),
  }),
  'a terminal in a vehicle’s document': () => ({
    read: (text) =>
      parseText(
        JSON.stringify({
          ...{ format: 'loombook-vehicle/1', vehicle: { name: 'a', systemVoltage_V: 12 }, parts: [], components: [] },
          joins: [{ from: text, to: `a${text}:1` }],
        }),
      ),
  }),
  'words on paper': () => {
    const type = pdf()
    return { read: (text) => type.wrap(text, { face: 'plain', size_pt: 10, width_pt: 400 }), most: 20_000 }
  },
}

/** Short enough that a square of it is still soon done, and it is seen. */
const SHORT = 2500
/** Below this a clock tells nothing: a longer text is tried instead. */
const LEAST_ms = 3

describe('four times the text takes about four times as long', () => {
  test.each(Object.keys(MATCHERS))('%s', (name) => {
    const { read, most = 160_000 } = (MATCHERS[name] as Matcher)()
    const took_ms = (text: string, tries: number) => {
      let best = Number.POSITIVE_INFINITY
      for (let n = 0; n < tries; n++) {
        const from = process.cpuUsage()
        read(text)
        const { user, system } = process.cpuUsage(from)
        best = Math.min(best, (user + system) / 1000)
      }
      return best
    }
    read('a')
    for (const [shape, make] of Object.entries(SHAPES)) {
      let length = SHORT
      // Four times as long each time until it can be told; what is quick at the longest that can come is quick enough.
      while (length * 4 <= most && took_ms(make(length), 2) < LEAST_ms) length *= 4
      const ratio = () => {
        const [short, long] = [took_ms(make(length / 4), 3), took_ms(make(length), 3)]
        return long < LEAST_ms * 3 ? 1 : long / short
      }
      // By the square it would be sixteen times as long, each time; memory being tidied up in between is not met three times.
      const least = [1, 2, 3].reduce((so) => (so < 10 ? so : Math.min(so, ratio())), Number.POSITIVE_INFINITY)
      expect(least, `${JSON.stringify(shape)}, ${length} letters`).toBeLessThan(10)
    }
  })
})

test('a name and a password of a hundred thousand marks at the door take no longer than as many letters', async () => {
  const door = await book.app.inject('/login')
  const cookie = String(door.headers['set-cookie']).split(';')[0] as string
  const took_ms = async (words: string) => {
    const payload = new URLSearchParams({ _token: tokenIn(door.body), name: words, password: words }).toString()
    const headers = { cookie, 'content-type': 'application/x-www-form-urlencoded' }
    const from = process.cpuUsage()
    const { statusCode } = await book.app.inject({ method: 'POST', url: '/sessions', headers, payload })
    const { user, system } = process.cpuUsage(from)
    expect(statusCode).toBe(422)
    return (user + system) / 1000
  }
  await took_ms('a')
  const [letters, marks] = [await took_ms('ab'.repeat(50_000)), await took_ms('\u0301\u0316'.repeat(50_000))]
  expect(marks / letters, `${marks} and ${letters} ms`).toBeLessThan(4)
})
