import { afterAll, beforeAll, expect, test } from 'vitest'
import { reportOn } from '../../server/records/projection.ts'
import { type Book, openBook } from './book.ts'
import { insideOf, textOf } from './markup.ts'

let book: Book
let V = ''
beforeAll(async () => {
  book = await openBook()
  V = `/vehicles/${book.vehicles[0]}`
})
afterAll(() => book.close())

const plain = (html: string) => textOf(html).replaceAll('&amp;', '&').replaceAll('&quot;', '"')
const svgsOf = (body: string) => [...body.matchAll(/<svg class="drawing".*?<\/svg>/gs)].map((found) => found[0])
const shapes = (body: string) =>
  [
    ...svgsOf(body)
      .join('')
      .matchAll(/<a class="(\w+)"[^>]* href="([^"]*)"><title>([^<]*)<\/title>(.*?)<\/a>/gs),
  ].map(([, look, href, title = '', inside = '']) => ({ look, href: plain(href as string), title: plain(title), inside }))
const rows = (body: string, id: string) =>
  [...insideOf(body, id).matchAll(/<tr>(.*?)<\/tr>/gs)].slice(1).map(([, row = '']) => ({
    href: plain(/href="([^"]*)"/.exec(row)?.[1] ?? ''),
    cells: [...row.matchAll(/<t[hd][^>]*>(.*?)<\/t[hd]>/gs)].map((one) => plain(one[1] as string)),
  }))

test('the table says of every shape what the picture does, in every vehicle and condition', async () => {
  for (const id of book.vehicles)
    for (const { key } of reportOn(book.db, book.actor, id).report.conditions) {
      const { body } = await book.get(`/vehicles/${id}/current-picture?condition=${key}`)
      const table = rows(body, 'drawn-table')
      const titles = new Map(shapes(body).map((one) => [one.href, one.title]))
      expect(titles.size).toBe(table.length)
      for (const { href, cells } of table) {
        const [name, what, current, length, drop, verdict, also] = cells as [string, string, string, string, string, string, string]
        const facts = [
          what,
          current,
          length,
          drop === '' ? '' : drop === 'not known' ? 'volts lost not known' : `${drop} lost`,
          verdict,
          also === '' ? '' : `also fed through ${also}`,
        ]
        expect(titles.get(href)).toBe(`${name}: ${facts.filter((one) => one !== '').join('; ')}`)
      }
      // Verdicts and figures are drawn as words, not told in titles alone.
      for (const { look, title, inside } of shapes(body).filter((one) => one.look === 'symbol')) {
        const words = [...inside.matchAll(/<text [^>]*>([^<]*)<\/text>/g)].map((one) => plain(one[1] as string))
        const verdict = ['over', 'tight', 'unknown'].find((one) => title.split('; ').includes(one))
        expect(words.includes(title.split('; ')[1] as string), `${look} ${title}`).toBe(true)
        if (verdict) expect(words, title).toContain(verdict)
      }
    }
})

test('every component is in the picture or named as not in it, once', async () => {
  const { document } = reportOn(book.db, book.actor, book.vehicles[0] as string)
  const { body } = await book.get(`${V}/current-picture`)
  const told = [...rows(body, 'drawn-table'), ...rows(body, 'other-table')].map((row) => row.href.split('/').at(-1) as string)
  const hoses = new Set(document.parts.filter((part) => part.kind === 'hose').map((part) => part.key))
  expect(told.sort()).toEqual(
    document.components
      .filter((one) => !hoses.has(one.part))
      .map((one) => one.key)
      .sort(),
  )
})

test('a line is as thick as its current: what carries twice as much is drawn twice as thick, and nothing is dashed', async () => {
  const { document, report } = reportOn(book.db, book.actor, book.vehicles[0] as string)
  const { body } = await book.get(`${V}/current-picture?condition=driving`)
  const condition = report.conditions.find((one) => one.key === 'driving')
  const wires = shapes(body).filter((one) => one.look === 'wire')
  const known = new Set(document.components.map((one) => one.key))
  const seen = new Set<number>()
  for (const { href, inside } of wires) {
    const key = (href.split('/').at(-1) as string).split('?')[0] as string
    expect(known.has(key)).toBe(true)
    const amperes = Math.abs(condition?.components[key]?.current_A ?? 0)
    const path = /<path d="M[\d.]+ [\d.]+V[\d.]+" stroke-width="([\d.]+)"( stroke-dasharray)?/.exec(inside)
    if (amperes < 0.0005) expect(path?.[2], key).toBeDefined()
    else if (Number(path?.[1]) > 0.8) seen.add(Math.round((Number(path?.[1]) / amperes) * 10) / 10)
  }
  // One scale for all: thicknesses are given to a tenth.
  expect(Math.max(...seen) - Math.min(...seen)).toBeLessThanOrEqual(0.1)
})

test('what carries nothing, what is not known and what carries at least so much are told apart by their shape, and by the table', async () => {
  // Wren's untraced box draws nobody knows what: its own wires are not known, and those it shares carry at least what the others draw.
  const { report } = reportOn(book.db, book.actor, book.vehicles[1] as string)
  const seen = { nothing: 0, 'at least': 0, 'not known': 0, known: 0 }
  for (const id of book.vehicles)
    for (const condition of reportOn(book.db, book.actor, id).report.conditions) {
      const { body } = await book.get(`/vehicles/${id}/current-picture?condition=${condition.key}`)
      const table = new Map(rows(body, 'drawn-table').map(({ href, cells }) => [href, cells[2] as string]))
      for (const { href, inside } of shapes(body).filter((one) => one.look === 'wire')) {
        const key = (href.split('/').at(-1) as string).split('?')[0] as string
        const { current_A = null, atLeast = true } = condition.components[key] ?? {}
        const flows = Math.abs(current_A ?? 0) >= 0.0005
        const drawn = {
          core: /<path d="M[\d.]+ [\d.]+V[\d.]+" stroke-width="[\d.]+" stroke-linecap/.test(inside),
          dashes: inside.includes('stroke-dasharray'),
          rims: inside.includes('class="rim"'),
        }
        const what = atLeast ? (flows ? 'at least' : 'not known') : flows ? 'known' : 'nothing'
        seen[what]++
        expect(drawn, `${key} ${what}`).toEqual({ core: flows, dashes: what === 'nothing', rims: atLeast })
        const told = table.get(href) as string
        expect(told, key).toMatch(
          what === 'not known' ? /^not known$/ : what === 'at least' ? /^≥ / : what === 'nothing' ? /^0 A$/ : /^[\d.]+ A$/,
        )
      }
    }
  expect(report.conditions.length).toBeGreaterThan(0)
  for (const [what, count] of Object.entries(seen)) expect(count, what).toBeGreaterThan(0)
})

test('words beside the rails of the return stand clear of every column, and each strip says what it is and what its lines mean', async () => {
  for (const id of book.vehicles)
    for (const { key } of reportOn(book.db, book.actor, id).report.conditions) {
      const { body } = await book.get(`/vehicles/${id}/current-picture?condition=${key}`)
      for (const svg of svgsOf(body)) {
        const title = /<title id="strip-\d+-title">([^<]*)</.exec(svg)?.[1]
        const legend = /<g class="strip" aria-hidden="true">(.*?)<\/g>/s.exec(svg)?.[1] ?? ''
        const words = [...legend.matchAll(/<text [^>]*>([^<]*)<\/text>/g)].map((one) => one[1])
        expect(words[0]).toBe(title)
        expect(words.slice(2)).toEqual(['at least so much', 'not known', 'nothing'])
        // Rails are links of one line of words without a symbol; the columns stand at their wires.
        const columns = [...svg.matchAll(/<a class="symbol"[^>]*>(.*?)<\/a>/gs)]
          .map((one) => one[1] as string)
          .flatMap((inside) => (inside.includes('<path d="M') ? [Number(/<path d="M([\d.]+) /.exec(inside)?.[1])] : []))
        const rails = [
          ...svg.matchAll(
            /<a class="symbol"[^>]*><title>[^<]*<\/title><rect class="touch" x="([\d.]+)" y="[\d.]+" width="([\d.]+)" height="24"/g,
          ),
        ]
        for (const [, x, width] of rails) expect(Number(x) + Number(width)).toBeLessThan(Math.min(...columns) - 10)
      }
    }
})

test('conductors have a tick for each whole metre', async () => {
  const { document } = reportOn(book.db, book.actor, book.vehicles[0] as string)
  const lengths = new Map(document.components.map((one) => [one.key, one.length_m ?? 0]))
  const wires = shapes((await book.get(`${V}/current-picture`)).body).filter((one) => one.look === 'wire')
  for (const { href, inside } of wires) {
    const key = (href.split('/').at(-1) as string).split('?')[0] as string
    const ticks = (/<path d="((?:M[\d.]+ [\d.]+H[\d.]+)+)"/.exec(inside)?.[1] ?? '').split('M').length - 1
    expect(ticks, key).toBe(Math.min(12, Math.floor(lengths.get(key) as number)))
  }
})

test('day and condition are kept, and what cannot be drawn is said', async () => {
  const { body } = await book.get(`${V}/current-picture?on=2023-05-10&condition=start`)
  expect(body).toContain('<option value="start" selected>')
  expect(shapes(body)[0]?.href).toMatch(/\?on=2023-05-10&condition=start$/)
  expect(body).toContain('as of 10 May 2023')
  expect(textOf((await book.get(`${V}/current-picture?on=2000-01-01`)).body)).toContain('no current flows')
  for (const svg of svgsOf(body)) {
    expect(svg).toMatch(/^<svg class="drawing" role="group" aria-labelledby="(strip-\d+-title) (strip-\d+-desc)"/)
    expect(svg).not.toMatch(/ style=|NaN|undefined|Infinity/)
    for (const [, paint] of svg.matchAll(/ (?:fill|stroke)="([^"]*)"/g)) expect(['none', 'currentColor']).toContain(paint)
  }
})
