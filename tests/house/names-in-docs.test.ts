import { existsSync, readFileSync } from 'node:fs'
import { join } from 'node:path'
import { expect, test } from 'vitest'

const root = join(import.meta.dirname, '../..')
const guides = ['README.md', 'DEVELOPERS.md', 'docker/README.md', 'server/engine/README.md', 'server/records/README.md']
const quoted = (guide: string) =>
  [...readFileSync(join(root, guide), 'utf8').matchAll(/`([^`\n]+)`|\]\(([^)#]+)\)/g)].map((one) => (one[1] ?? one[2]) as string)
const isPath = (text: string) => /^[\w.-]+(\/[\w.-]*)*$/.test(text) && (text.includes('/') || /\.(ts|md|json|eta|css)$/.test(text))

test.each(guides)('every file named in %s is there', (guide) => {
  const here = join(root, guide, '..')
  const paths = quoted(guide).filter((text) => isPath(text) && !text.startsWith('/'))
  expect(paths.length).toBeGreaterThan(0)
  const lost = paths.filter((path) => !existsSync(join(root, path)) && !existsSync(join(here, path)))
  expect(lost).toEqual([])
})

test.each(guides)('every command named in %s is one of the package', (guide) => {
  const { scripts } = JSON.parse(readFileSync(join(root, 'package.json'), 'utf8')) as { scripts: Record<string, string> }
  const text = readFileSync(join(root, guide), 'utf8')
  const named = [...text.matchAll(/npm run (?:-s )?([\w:-]+)/g)].map((one) => one[1] as string)
  expect(named.filter((name) => !(name in scripts))).toEqual([])
})

test('every setting named in the guides is read somewhere', () => {
  const readers = [
    'server/config.ts',
    'server/sign-in-settings.ts',
    'tests/engine/properties/properties.test.ts',
    'tests/engine/properties/random-documents.ts',
  ]
  const sources = readers.map((path) => readFileSync(join(root, path), 'utf8')).join('')
  const named = guides.flatMap((guide) => [...readFileSync(join(root, guide), 'utf8').matchAll(/\bLOOMBOOK_\w+/g)].map((one) => one[0]))
  expect(named.length).toBeGreaterThan(0)
  // A secret may also come as what a file holds.
  expect(named.filter((name) => !sources.includes(name.replace(/_FILE$/, '')))).toEqual([])
})
