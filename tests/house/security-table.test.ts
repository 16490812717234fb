import { existsSync, readdirSync, readFileSync } from 'node:fs'
import { join } from 'node:path'
import { expect, test } from 'vitest'

const root = join(import.meta.dirname, '../..')
const section = readFileSync(join(root, 'DEVELOPERS.md'), 'utf8').split(/^## Security requirements$/m)[1] as string
const rows = section
  .split('\n')
  .filter((line) => /^\| \d+\.\d+\.\d/.test(line))
  .map((line) => line.slice(2, -2).split(/ \| /))

/** OWASP ASVS 5.0.0: each section with the levels of its requirements in their order; 70, 183 and 92 of the three levels. */
const LEVELS: Readonly<Record<string, string>> = {
  ...{ '1.1': '22', '1.2': '1111122223', '1.3': '112222222223', '1.4': '222', '1.5': '123' },
  ...{ '2.1': '122', '2.2': '112', '2.3': '12223', '2.4': '23' },
  ...{ '3.1': '3', '3.2': '113', '3.3': '12223', '3.4': '11222233', '3.5': '11122333', '3.6': '3', '3.7': '22333' },
  ...{ '4.1': '12233', '4.2': '23333', '4.3': '22', '4.4': '1222' },
  ...{ '5.1': '2', '5.2': '112333', '5.3': '113', '5.4': '222' },
  ...{ '6.1': '122', '6.2': '111111112222', '6.3': '11223333', '6.4': '112233', '6.5': '22222333' },
  ...{ '6.6': '2223', '6.7': '33', '6.8': '2222' },
  ...{ '7.1': '222', '7.2': '1111', '7.3': '22', '7.4': '11222', '7.5': '223', '7.6': '22' },
  ...{ '8.1': '1233', '8.2': '1123', '8.3': '133', '8.4': '23' },
  ...{ '9.1': '111', '9.2': '1222' },
  ...{ '10.1': '22', '10.2': '223', '10.3': '22223', '10.4': '1111122222233333', '10.5': '22222', '10.6': '22', '10.7': '222' },
  ...{ '11.1': '2233', '11.2': '22233', '11.3': '11233', '11.4': '1222', '11.5': '23', '11.6': '23', '11.7': '33' },
  ...{ '12.1': '12233', '12.2': '11', '12.3': '22223' },
  ...{ '13.1': '2333', '13.2': '222223', '13.3': '2233', '13.4': '1222233' },
  ...{ '14.1': '22', '14.2': '12223333', '14.3': '122' },
  ...{ '15.1': '12233', '15.2': '12233', '15.3': '1222222', '15.4': '3333' },
  ...{ '16.1': '2', '16.2': '22222', '16.3': '2222', '16.4': '222', '16.5': '2223' },
  ...{ '17.1': '23', '17.2': '22223333', '17.3': '22' },
}
const requirements = Object.entries(LEVELS).flatMap(([part, levels]) =>
  [...levels].map((level, at) => ({ id: `${part}.${at + 1}`, level: Number(level) })),
)

/** "6.2.1, 6.2.4–6.2.6" and whole sections and chapters as well: which requirements it names. */
function named(cell: string): readonly { readonly id: string; readonly level: number }[] {
  const numbers = (text: string) => text.split('.').map(Number)
  return cell.split(', ').flatMap((one) => {
    const [from = '', to = from] = one.split('–')
    const isIn = (id: string) => {
      const place = numbers(id).slice(0, numbers(from).length)
      return compare(place, numbers(from)) >= 0 && compare(place, numbers(to)) <= 0
    }
    return requirements.filter(({ id }) => isIn(id))
  })
}

function compare(one: readonly number[], other: readonly number[]): number {
  const at = one.findIndex((number, n) => number !== other[n])
  return at < 0 ? 0 : (one[at] as number) - (other[at] as number)
}

/** "`file`: how a test's name begins; `other`" → the pairs. */
const shownBy = (cell: string) =>
  [...cell.matchAll(/`([\w./-]+\.test\.ts)`(?:: ([^`;]+))?/g)].map(([, file = '', name]) => ({
    file,
    names: name === undefined ? [] : [name.trim()],
  }))

test('the table of security requirements has a row for each, of five cells', () => {
  expect(rows.length).toBeGreaterThan(100)
  for (const row of rows) expect(row, row[0]).toHaveLength(5)
  const all = rows.map((row) => row[0])
  expect(all.filter((one, at) => all.indexOf(one) !== at)).toEqual([])
})

test('every requirement of level 1 and 2 has one row or is told not to apply, and each row tells its levels', () => {
  expect([1, 2, 3].map((level) => requirements.filter((one) => one.level === level).length)).toEqual([70, 183, 92])
  const [, left = ''] = /^Not applying: (.+)\.$/m.exec(section) ?? []
  const notApplying = left.split('; ').flatMap((one) => named(one.split(' (')[0] as string))
  const inRows = rows.flatMap(([cell = '']) => named(cell))
  const told = [...inRows, ...notApplying].filter(({ level }) => level < 3).map(({ id }) => id)
  expect(told.filter((id, at) => told.indexOf(id) !== at)).toEqual([])
  expect(requirements.filter(({ id, level }) => level < 3 && !told.includes(id))).toEqual([])
  for (const [cell = '', levels] of rows) expect([...new Set(named(cell).map(({ level }) => level))].sort().join(', '), cell).toBe(levels)
})

test('every test that the table names is there under that name', () => {
  const lost = rows.flatMap(([row = '', , , , cell = '']) =>
    shownBy(cell).flatMap(({ file, names }) => {
      const path = join(root, file)
      if (!existsSync(path)) return [`${row}: ${file}`]
      const source = readFileSync(path, 'utf8')
      return names.filter((name) => !source.includes(name)).map((name) => `${row}: ${file}: ${name}`)
    }),
  )
  expect(lost).toEqual([])
})

test('a row that no test shows says why, or is the operator’s', () => {
  const silent = rows.filter(
    ([, , , met = '', cell = '']) => shownBy(cell).length === 0 && cell !== 'as above' && !cell.startsWith('–') && met !== '',
  )
  expect(silent.map((row) => row[0])).toEqual([])
})

test('whatever makes, keeps or compares keys stands in the list of keys, and digests are of SHA-256', () => {
  const keys = section.split(/^### Keys and algorithms$/m)[1] as string
  const sources = readdirSync(join(root, 'server'), { recursive: true, encoding: 'utf8' }).filter((name) => name.endsWith('.ts'))
  const handling = /\b(createHmac|scrypt|randomBytes|timingSafeEqual)\b|from 'otpauth'|import\('(openid-client|@simplewebauthn\/server)'\)/
  const others = /\b(createCipheriv|createSign|createVerify|generateKeyPair\w*|createECDH|Math\.random|argon2\w*|pbkdf2\w*)\b/
  let found = 0
  for (const name of sources) {
    const text = readFileSync(join(root, 'server', name), 'utf8')
    expect(text.match(others), name).toBeNull()
    for (const [, algorithm] of text.matchAll(/\bcreateH(?:ash|mac)\(([^,)]+)/g)) expect(algorithm, name).toBe("'sha256'")
    if (!handling.test(text)) continue
    found++
    expect(keys, name).toContain(`\`server/${name}\``)
  }
  expect(found).toBeGreaterThan(15)
})
