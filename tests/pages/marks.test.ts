import { afterAll, beforeAll, expect, test } from 'vitest'
import { append } from '../../server/records/journal.ts'
import { type Book, openBook } from './book.ts'
import { insideOf, textOf } from './markup.ts'

let book: Book
let V = ''
beforeAll(async () => {
  book = await openBook()
  V = `/vehicles/${book.vehicles[0]}`
})
afterAll(() => book.close())

const MARKS = () => `${V}/components/main-lead/marks`
const typed = {
  ...{ colour: 'RD', stripe: 'WH', number: '61', 'terminal-a': 'M8 ring', 'tool-a': 'hex crimper', 'terminal-b': 'M6 ring' },
  on: '2026-11-20',
}
const inDocument = async (on = '') => {
  const { components } = JSON.parse((await book.get(`${V}/document.json${on === '' ? '' : `?on=${on}`}`)).body)
  return components.find((one: { key: string }) => one.key === 'main-lead')
}
const rowOf = (body: string, table: string, name: string) =>
  [...insideOf(body, table).matchAll(/<tr>(.*?)<\/tr>/gs)].map((one) => textOf(one[1] as string)).find((row) => row.startsWith(name))

test('what is entered stands in the document, on the cut list and on the drawing from its day on, and in the journal', async () => {
  const { name, length_m, number } = await inDocument()
  expect(number).toBeUndefined()
  const list = (await book.get(`${V}/cut-list`)).body
  expect(insideOf(list, 'cut-table')).toContain(`href="${MARKS()}"`)
  for (const page of ['components/main-lead', 'wiring-drawing'])
    expect((await book.get(`${V}/${page}`)).body).toContain(`href="${MARKS()}"`)
  const saved = await book.post(MARKS(), typed)
  expect(saved.statusCode).toBe(303)
  expect((await book.get(saved.headers.location as string)).body).toContain(`Marks of ${name}`)
  expect(await inDocument()).toMatchObject({
    ...{ colour: 'RD', stripe: 'WH', number: '61', length_m },
    fittings: { a: { terminal: 'M8 ring', tool: 'hex crimper' }, b: { terminal: 'M6 ring' } },
  })
  expect((await inDocument('2026-11-19')).number).toBeUndefined()
  const cut = rowOf((await book.get(`${V}/cut-list?end=0&share=0`)).body, 'cut-table', name)
  for (const word of ['61', 'RD/WH', 'M8 ring, by hex crimper', 'M6 ring']) expect(cut).toContain(word)
  const drawn = (await book.get(`${V}/wiring-drawing`)).body
  const row = rowOf(drawn, 'conductor-table', name)
  for (const word of ['61', 'RD/WH', 'a: M8 ring by hex crimper, b: M6 ring']) expect(row).toContain(word)
  expect(/<title>([^<]*; 61; [^<]*)<\/title>/.exec(drawn)?.[1]).toContain('RD/WH')
})

test('the form shows what is recorded; what is blanked out is recorded as gone, and nothing new is no entry', async () => {
  await book.post(MARKS(), typed)
  const { body } = await book.get(MARKS())
  expect(body).toContain('<option value="WH" selected>WH, white</option>')
  expect(body).toContain('value="hex crimper"')
  const same = await book.post(MARKS(), { ...typed, on: '2026-11-22' })
  expect(same.statusCode).toBe(422)
  expect(same.body).toContain('Nothing here differs')
  expect((await book.post(MARKS(), { colour: 'BN', number: '61', on: '2026-11-23' })).statusCode).toBe(303)
  const now = await inDocument()
  expect([now.colour, now.number, now.stripe, now.fittings]).toEqual(['BN', '61', undefined, undefined])
  expect((await inDocument('2026-11-22')).stripe).toBe('WH')
  expect(textOf((await book.get(`${V}/components/main-lead/life`)).body)).toContain('second colour not said')
})

test('a word is no colour, a stripe lies on one, and what was typed stays', async () => {
  const before = await inDocument()
  for (const [fields, says] of [
    [{ colour: 'red' }, 'letters of IEC 60757: BK, BN, RD'],
    [{ stripe: 'WH' }, 'Which colour is the stripe on?'],
    [{ number: 'x'.repeat(41) }, 'At most 40 characters'],
    [{ 'tool-b': 'y'.repeat(81) }, 'At most 80 characters'],
    [{ on: '2026-11-31' }, 'no 2026-11-31'],
  ] as const) {
    const wrong = await book.post(MARKS(), { colour: '', number: 'kept', on: '2026-11-20', ...fields })
    expect(wrong.statusCode).toBe(422)
    expect(wrong.body).toContain(says)
    for (const one of Object.values(fields)) expect(wrong.body).toContain(one)
  }
  expect(await inDocument()).toEqual(before)
})

test('only a conductor that is fitted today has marks', async () => {
  expect((await book.get(`${V}/components/battery/marks`)).statusCode).toBe(404)
  expect((await book.get(`${V}/components/nothing/marks`)).statusCode).toBe(404)
  expect((await book.post(`${V}/components/battery/marks`, typed)).statusCode).toBe(404)
})

test('the journal refuses a colour that is none, and names the letters', () => {
  const refused = append(book.db, book.clock, book.actor, {
    ...{ vehicleId: book.vehicles[0] as string, effectiveOn: '2026-11-20', title: 'Marks' },
    changes: [{ kind: 'described', component: { key: 'main-lead', colour: 'red' } }],
  })
  expect(refused.ok).toBe(false)
  if (!refused.ok) expect(refused.refusals[0]?.sentence).toContain('letters of IEC 60757: BK, BN, RD')
})
