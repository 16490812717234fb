import { afterAll, beforeAll, expect, test } from 'vitest'
import { linksOf } from '../../server/drawing/links.ts'
import { cutLength_m, cutLines, cutTotals } from '../../server/pages/shared/cut-lines.ts'
import { full } from '../document/full-document.ts'
import { type Book, openBook } from './book.ts'
import { insideOf, textOf } from './markup.ts'

let book: Book
let V = ''
beforeAll(async () => {
  book = await openBook()
  V = `/vehicles/${book.vehicles[0]}`
})
afterAll(() => book.close())

const rowsOf = (body: string, id: string) =>
  [...insideOf(body, id).matchAll(/<tr>(.*?)<\/tr>/gs)].slice(1).map((one) => textOf(one[1] as string))

// By hand: 1.6 m and a twentieth is 1.68 m, with 30 mm at each end 1.74 m; 2.345 m · 1.1 + 2 · 0.025 m = 2.6295 m, to the next centimetre 2.63 m.
test('a piece is cut longer by its share and its ends, to the next whole centimetre', () => {
  expect(cutLength_m(1.6, { end_mm: 30, share_percent: 5 })).toBe(1.74)
  expect(cutLength_m(2.345, { end_mm: 25, share_percent: 10 })).toBe(2.63)
  expect(cutLength_m(0.6, { end_mm: 0, share_percent: 0 })).toBe(0.6)
  expect(cutLength_m(1.1, { end_mm: 0, share_percent: 0 })).toBe(1.1)
})

test('of each conductor: number, colours, cross-section, length, both ends with terminal and tool', () => {
  const document = full()
  const lines = cutLines(linksOf(document), { end_mm: 0, share_percent: 0 })
  const conductors = document.components.filter((one) => document.parts.find((part) => part.key === one.part)?.kind === 'conductor')
  expect(lines.map((line) => line.component).sort()).toEqual(conductors.map((one) => one.key).sort())
  const marked = conductors.find((one) => one.fittings !== undefined)
  const line = lines.find((one) => one.component === marked?.key)
  expect(line?.number).toBe(marked?.number)
  expect(line?.colour).toBe([marked?.colour, marked?.stripe].filter((one) => one !== undefined).join('/'))
  for (const [n, end] of (['a', 'b'] as const).entries()) {
    expect(line?.ends[n]?.terminal).toBe(marked?.fittings?.[end]?.terminal ?? '')
    expect(line?.ends[n]?.tool).toBe(marked?.fittings?.[end]?.tool ?? '')
  }
})

test('totals by cross-section and colour: every piece once, conductors side by side each, unknown lengths said and left out', () => {
  const wire = (key: string, more: object) => ({ key, name: key, part: 'w', ...more })
  const linked = linksOf({
    format: 'loombook-vehicle/1',
    vehicle: { name: 'Loom', systemVoltage_V: 12 },
    parts: [{ key: 'w', kind: 'conductor', name: 'w', ratings: { crossSection_mm2: 2.5 } }],
    components: [
      wire('one', { length_m: 1, colour: 'RD' }),
      wire('pair', { length_m: 2, colour: 'RD', parallel: 2 }),
      wire('lost', { colour: 'RD' }),
      wire('brown', { length_m: 0.5, colour: 'BN' }),
      wire('green', { colour: 'GN' }),
    ],
    joins: [],
  })
  expect(cutTotals(cutLines(linked, { end_mm: 0, share_percent: 0 }))).toEqual([
    { crossSection: '2.5 mm²', colour: 'BN', pieces: 1, cut_m: 0.5, unknown: 0 },
    { crossSection: '2.5 mm²', colour: 'GN', pieces: 1, cut_m: null, unknown: 1 },
    { crossSection: '2.5 mm²', colour: 'RD', pieces: 4, cut_m: 5, unknown: 1 },
  ])
})

test('the page lists a harness alone, keeps what was asked, and refuses what is no allowance without losing it', async () => {
  const all = (await book.get(`${V}/cut-list`)).body
  const options = [...all.matchAll(/<option value="([^"]*)"[^>]*>([^<]*)</g)]
  const dipped = options.find((one) => one[2]?.includes('F1,'))?.[1] as string
  const one = (await book.get(`${V}/cut-list?harness=${dipped}&end=50&share=10`)).body
  const lines = rowsOf(one, 'cut-table')
  // Fuse to relay, two feeds, two returns, three of the coil.
  expect(lines.length).toBe(8)
  expect(rowsOf(all, 'cut-table').length).toBeGreaterThan(60)
  // Recorded 1.6 m: 1.6 · 1.1 + 0.1 = 1.86 m.
  expect(lines.find((line) => line.startsWith('Dipped beam, left feed'))).toContain(
    '2.5 mm² RD/WH 1.6 m 1.86 m Relay R1, dipped beam 87 6.3 mm receptacle, by F-crimp pliers',
  )
  expect(one).toContain(`<option value="${dipped}" selected>`)
  const wrong = await book.get(`${V}/cut-list?end=much`)
  expect(wrong.statusCode).toBe(422)
  expect(wrong.body).toContain('value="much"')
  expect((await book.get(`${V}/cut-list.csv?end=much`)).statusCode).toBe(422)
})

// By hand: 2 m and a twentieth is 2.1 m, with 30 mm at each end 2.16 m; 0.6 m is 0.63 m and 0.69 m.
test('a chain that is only tried says what to cut for it, on the page and for a spreadsheet, and nothing is recorded', async () => {
  const fields = {
    ...{ from: 'block:20', rows: '2', 'type-0': 'conductor', 'size-0': '2.5', 'length-0': '2', 'type-1': 'load', 'name-1': 'Step lamp' },
    ...{ 'figure-1': '2', return: 'ground-bay:20', 'return-size': '2.5', 'return-length': '0.6', on: '2026-11-20' },
  }
  const before = (await book.get(`${V}/document.json`)).body
  const tried = await book.post(`${V}/chains`, { ...fields, do: 'try' })
  const lines = rowsOf(tried.body, 'tried-cuts')
  expect(lines.length).toBe(2)
  expect(lines.find((line) => line.includes('to Step lamp'))).toMatch(/2\.5 mm² 2 m 2\.16 m .*Step lamp \+/)
  expect(lines.find((line) => line.startsWith('Step lamp return'))).toMatch(/2\.5 mm² 0\.6 m 0\.69 m Step lamp −/)
  const csv = await book.post(`${V}/chains`, { ...fields, do: 'cut-list' })
  expect([csv.statusCode, csv.headers['content-type']]).toEqual([200, 'text/csv; charset=utf-8'])
  expect(csv.body.trim().split('\r\n').length).toBe(3)
  expect(csv.body).toContain('"2.5 mm²","",2,2.16')
  expect((await book.get(`${V}/document.json`)).body).toBe(before)
  const wrong = await book.post(`${V}/chains`, { ...fields, 'length-0': 'far', do: 'cut-list' })
  expect(wrong.statusCode).toBe(422)
  expect(wrong.body).toContain('value="far"')
})

test('the same lines for a spreadsheet, where no cell of words can be taken for a formula', async () => {
  const { body, headers } = await book.get(`${V}/cut-list.csv`)
  expect(headers['content-type']).toContain('text/csv')
  expect(headers['content-disposition']).toContain('attachment')
  const lines = body.trim().split('\r\n')
  expect(lines.length).toBe(1 + rowsOf((await book.get(`${V}/cut-list`)).body, 'cut-table').length)
  expect(lines[0]).toContain('"number","conductor","count","cross_section","colour","length_m","cut_m"')
  expect(lines.find((line) => line.includes('Dipped beam, left feed'))).toContain('"2.5 mm²","RD/WH",1.6,1.74')
})
