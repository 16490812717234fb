import { afterAll, beforeAll, expect, test } from 'vitest'
import type { Finding } from '../../server/engine/report.ts'
import { scaleView } from '../../server/pages/shared/scale.ts'
import { type Book, openBook } from './book.ts'
import { textOf } from './markup.ts'

let book: Book
beforeAll(async () => {
  book = await openBook()
})
afterAll(() => book.close())

const finding = (given: Partial<Finding>): Finding => ({
  ...{ rule: 'fuse-load', component: 'f', condition: 'c', verdict: 'clear', value: 10, limit: 20, unit: 'A', used: 0.5 },
  ...{ tightAbove: 0.8, overAbove: 1, says: '', remedy: '', missing: [], evidence: 'marked', sources: [] },
  ...given,
})
/** The drawing's rule is 150 long: half of the limit is 75, four fifths 120. */
test('a scale fills to the share used, is marked at its own thresholds, and breaks out of the end when over', () => {
  const half = scaleView(finding({}))
  expect(half?.fill).toBe('M0 6H75V11H0z')
  expect(half?.rule).toContain('M120 2V16')
  expect(half?.label).toBe('50 % of the limit: clear')
  const over = scaleView(finding({ used: 1.1, verdict: 'over' }))
  expect(over?.fill).toContain('H150V3H161L165 8')
  expect(scaleView(finding({ used: null, verdict: 'unknown' }))).toBeNull()
})

test('a ghost tick stands where it stood before, and what it may be at most is hatched', () => {
  const scale = scaleView(finding({ verdict: 'unknown' }), { was: 0.2, atMost: 0.8 })
  expect(scale?.ghost).toBe('M30 0V16')
  expect(scale?.hatch).toMatch(/^M75 11l5-5.*M120 5V12$/)
  expect(scale?.label).toBe('50 % of the limit: unknown; at most 80 %; stood at 20 % before')
})

test('the condition is chosen by the address, on the vehicle and on a branch, and stays chosen', async () => {
  const V = `/vehicles/${book.vehicles[0]}`
  const cranking = (await book.get(`${V}?condition=start`)).body
  expect(textOf(cranking)).toContain('Feed ledger cranking')
  expect(cranking).toContain('/components/starter?condition=start"')
  const branch = (await book.get(`${V}/components/r7?condition=start`)).body
  expect(branch).toContain('<option value="start" selected>')
  expect(textOf((await book.get(`${V}/components/r7`)).body)).toContain('Together 12 A')
})

test('unknown currents are hatched on the half-known car, and grouped by rule with a way to all of them', async () => {
  const page = (await book.get(`/vehicles/${book.vehicles[1]}`)).body
  expect(page).toContain('class="hatch"')
  expect(page).toMatch(/findings\?verdict=unknown&amp;rule=[a-z-]+"/)
  expect(textOf(page)).toMatch(/\d+ unknown/)
})
