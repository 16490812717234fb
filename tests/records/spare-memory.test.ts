/** What may still be taken, read from groups as the kernel writes them: cgroups(7) and its descriptions of either version. */
import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { dirname, join } from 'node:path'
import { afterEach, beforeEach, expect, test } from 'vitest'
import { spareMemory_bytes } from '../../server/records/spare-memory.ts'

const MB = 1024 * 1024
let root = ''
beforeEach(() => {
  root = mkdtempSync(join(tmpdir(), 'loombook-groups-'))
})
afterEach(() => rmSync(root, { recursive: true, force: true }))

const spare = (files: Readonly<Record<string, string>>, node: { constrained?: number; held?: number } = {}) => {
  for (const [name, text] of Object.entries(files)) {
    mkdirSync(dirname(join(root, name)), { recursive: true })
    writeFileSync(join(root, name), `${text}\n`)
  }
  const [mounted, own] = [join(root, 'groups'), join(root, 'own')]
  return spareMemory_bytes({ mounted, own, constrained: () => node.constrained ?? 0, held: () => node.held ?? 0 })
}
const stat = (of: Readonly<Record<string, number>>) =>
  Object.entries(of)
    .map(([name, value]) => `${name} ${value}`)
    .join('\n')

test('version 2, from within a container: bound less used, and files in memory that nobody has mapped given back', () => {
  const files = {
    own: '0::/',
    'groups/memory.max': String(256 * MB),
    'groups/memory.high': 'max',
    'groups/memory.current': String(200 * MB),
    'groups/memory.stat': stat({ anon: 110 * MB, file: 90 * MB, file_mapped: 40 * MB, inactive_file: 30 * MB, active_file: 55 * MB }),
  }
  // 256 − 200 + (30 + 55 − 40) = 101
  expect(spare(files)).toBe(101 * MB)
  // Slowed down from 240 on: 240 − 200 + 45 = 85
  expect(spare({ 'groups/memory.high': String(240 * MB) })).toBe(85 * MB)
})

test('version 2, a unit within a slice: the narrower of the two decides, and no bound is none', () => {
  const files = {
    own: '0::/house.slice/book.service',
    'groups/house.slice/book.service/memory.max': 'max',
    'groups/house.slice/book.service/memory.current': String(100 * MB),
    'groups/house.slice/memory.max': 'max',
    'groups/house.slice/memory.current': String(300 * MB),
  }
  expect(spare(files)).toBe(null)
  expect(spare({ 'groups/house.slice/memory.max': String(512 * MB) })).toBe(212 * MB)
  expect(spare({ 'groups/house.slice/book.service/memory.max': String(180 * MB) })).toBe(80 * MB)
})

test('version 1: totals of the group and all below it; its largest number is no bound', () => {
  const files = {
    own: '5:cpu,cpuacct:/x\n4:memory:/book\n1:name=systemd:/\n0::/',
    'groups/memory/memory.limit_in_bytes': '9223372036854771712',
    'groups/memory/memory.usage_in_bytes': String(900 * MB),
    'groups/memory/book/memory.limit_in_bytes': String(512 * MB),
    'groups/memory/book/memory.usage_in_bytes': String(400 * MB),
    'groups/memory/book/memory.stat': stat({
      mapped_file: MB,
      total_mapped_file: 20 * MB,
      total_inactive_file: 60 * MB,
      total_active_file: 10 * MB,
    }),
  }
  // 512 − 400 + (60 + 10 − 20) = 162
  expect(spare(files)).toBe(162 * MB)
  // In a container the path of the machine is not there, and the root is the group.
  expect(spare({ own: '4:memory:/docker/0123', 'groups/memory/memory.limit_in_bytes': String(950 * MB) })).toBe(50 * MB)
})

test('past its bound nothing is to spare, and never less than nothing', () => {
  const files = { own: '0::/', 'groups/memory.max': String(100 * MB), 'groups/memory.current': String(130 * MB) }
  expect(spare(files)).toBe(0)
})

test('where no group can be read: what Node says of a bound, else no bound', () => {
  expect(spare({})).toBe(null)
  expect(spare({}, { constrained: 300 * MB, held: 180 * MB })).toBe(120 * MB)
  expect(spare({}, { constrained: 300 * MB, held: 380 * MB })).toBe(0)
  // libuv's word for "none" where version 1 is mounted.
  expect(spare({}, { constrained: 18446744073709552000, held: 180 * MB })).toBe(null)
})
