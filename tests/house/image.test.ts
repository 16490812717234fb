import { execFileSync } from 'node:child_process'
import { readdirSync, readFileSync } from 'node:fs'
import { join } from 'node:path'
import { expect, test } from 'vitest'
import { asTheImageStartsIt } from '../../docker/as-the-image.ts'

const docker = join(import.meta.dirname, '../../docker')
const read = (name: string) => readFileSync(join(docker, name), 'utf8')
/** Instructions with their continuation lines joined, comments left out. */
const instructions = read('Dockerfile')
  .replace(/\\\n/g, ' ')
  .split('\n')
  .filter((line) => line.trim() !== '' && !line.startsWith('#'))
const of = (word: string) => instructions.filter((line) => line.startsWith(`${word} `)).map((line) => line.slice(word.length + 1).trim())

test('the image: only known instructions, several stages, a user who is not root, a health check, programs without a shell', () => {
  const known = ['ARG', 'FROM', 'RUN', 'WORKDIR', 'COPY', 'ENV', 'USER', 'EXPOSE', 'VOLUME', 'STOPSIGNAL', 'HEALTHCHECK', 'CMD']
  expect(instructions.filter((line) => !known.includes(line.split(' ')[0] as string))).toEqual([])
  expect(of('FROM')).toHaveLength(2)
  expect(of('USER')).toEqual([expect.stringMatching(/^[1-9]\d*:[1-9]\d*$/)])
  expect(instructions.indexOf(`USER ${of('USER')[0]}`)).toBeGreaterThan(instructions.findLastIndex((line) => line.startsWith('RUN ')))
  expect(of('CMD')).toEqual([expect.stringMatching(/^\["node", /)])
  expect(of('HEALTHCHECK')[0]).toMatch(/CMD \["node", "\/app\/healthcheck\.js"\]$/)
  expect(of('ARG')[0]).toMatch(/^BASE=[\w./-]+:\d+-trixie-slim$/)
  // Lists of packages are not left in a layer, and nothing is added beyond what is named.
  for (const line of of('RUN').filter((one) => one.includes('apt-get install')))
    expect(line).toMatch(/apt-get update && apt-get install -y --no-install-recommends .* && rm -rf \/var\/lib\/apt\/lists\/\*/)
  expect(of('RUN').filter((line) => /curl|wget|chmod 777 \/app|sudo/.test(line))).toEqual([])
})

test('whatever starts the server as the image does gives node the same flags, and the C library the same settings', () => {
  const [program, ...rest] = JSON.parse(of('CMD')[0] as string) as string[]
  const flags = rest.filter((word) => word.startsWith('--'))
  expect([program, flags.length > 0]).toEqual(['node', true])
  const listed = flags.map((flag) => `'${flag}'`).join(', ')
  expect(read('loombook.service')).toMatch(new RegExp(`^ExecStart=\\S*/node ${flags.join(' ')} /\\S+$`, 'm'))
  expect(read('../server/commands/bench-household.ts')).toContain(`const FLAGS = [${listed}]`)
  const memory = of('ENV').find((line) => line.startsWith('MALLOC_')) as string
  expect(memory.split(' ')).toHaveLength(3)
  const unit = read('loombook.service').split('\n')
  expect(unit).toContain(`Environment=${memory}`)
  // Else systemd ends the server with the night's process.
  expect(unit).toContain('OOMPolicy=continue')
  const pairs = memory.split(' ').map((pair) => pair.replace(/=(.+)/, ": '$1'"))
  expect(read('../server/commands/bench-household.ts')).toContain(`const MALLOC = { ${pairs.join(', ')} }`)
  expect(asTheImageStartsIt()).toEqual({
    command: ['node', ...flags, 'server/main.js'],
    env: Object.fromEntries(memory.split(' ').map((pair) => pair.split('='))),
  })
})

test('what goes into a build leaves out records, histories and what is made anew there', () => {
  const left = read('Dockerfile.dockerignore').split('\n')
  for (const name of ['.git', 'node_modules', '**/*.sqlite*']) expect(left).toContain(name)
})

test('the compose file is short, and its container may do little', () => {
  const compose = read('compose.yaml')
  expect(compose.trimEnd().split('\n').length).toBeLessThanOrEqual(15)
  for (const line of ['read_only: true', 'cap_drop: [ALL]', 'no-new-privileges:true', 'mem_limit: 512m']) expect(compose).toContain(line)
})

test('recipes name only settings that there are', () => {
  const settings = readFileSync(join(docker, '../server/config.ts'), 'utf8')
  const files = [
    'Dockerfile',
    'compose.yaml',
    'loombook.service',
    'README.md',
    'proxies/nginx.conf',
    'proxies/Caddyfile',
    'proxies/apache.conf',
    'proxies/traefik.yaml',
  ]
  for (const file of files)
    for (const [name] of read(file).matchAll(/LOOMBOOK_[A-Z_]+/g))
      expect(settings, `${name} in ${file}`).toMatch(new RegExp(`\\b${name.replace(/_FILE$/, '')}\\b`))
})

test('what proves the image asks the Dockerfile for its Node and its Debian, and the image for its command', () => {
  const prove = read('prove.sh')
  for (const name of readdirSync(docker).filter((one) => one.endsWith('.sh'))) execFileSync('sh', ['-n', join(docker, name)])
  expect(of('ARG')).toEqual([expect.stringMatching(/^BASE=node:\d+-[a-z]+-slim$/)])
  expect(prove).toContain("sed -n 's/^ARG BASE=node://p'")
  expect(prove).toContain('{{range .Docker.Config.Cmd}}')
  expect(prove).not.toContain('main.js')
  // With --cross only the second stage is run: one folder is all that it takes from the first.
  expect(of('COPY').filter((line) => line.startsWith('--from='))).toEqual(['--from=build /app /app'])
  expect(prove).toContain("sed 's|^COPY --from=build /app |COPY app |'")
})

test('a program here past 200 lines says why in its first comment', () => {
  const programs = readdirSync(docker).filter((name) => name.endsWith('.ts'))
  expect(programs.length).toBeGreaterThan(0)
  for (const name of programs)
    if (read(name).split('\n').length > 201) expect(read(name).split('*/')[0], name).toMatch(/^\/\*\*\s+(\* )?Past 200 lines/)
})
