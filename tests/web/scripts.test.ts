import { readdirSync, readFileSync } from 'node:fs'
import { join } from 'node:path'
import { gzipSync } from 'node:zlib'
import { expect, test } from 'vitest'

const folder = join(import.meta.dirname, '../../static')

test('all scripts together are at most 25 kB as they travel', () => {
  const scripts = readdirSync(folder).filter((name) => name.endsWith('.js'))
  expect(scripts).toContain('htmx.min.js')
  const bytes = scripts.reduce((sum, name) => sum + gzipSync(readFileSync(join(folder, name))).length, 0)
  expect(bytes).toBeLessThanOrEqual(25_000)
})
