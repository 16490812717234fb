import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, expect, test } from 'vitest'
import { type Environment, readConfig } from '../server/config.ts'

const OIDC = { LOOMBOOK_OIDC_ISSUER: 'https://id.example/realm', LOOMBOOK_OIDC_CLIENT_ID: 'loom' }
const SECRET = 'LOOMBOOK_OIDC_CLIENT_SECRET'
let folder = ''
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'settings-'))
  for (const [name, text] of Object.entries({ secret: 'from a file\n', blank: '  \n' })) writeFileSync(join(folder, name), text)
})
afterAll(() => rmSync(folder, { recursive: true }))

const read = (more: Environment) => readConfig({ LOOMBOOK_DATA: folder, LOOMBOOK_TIME_ZONE: 'UTC', ...more })
const settings = (more: Environment) => {
  const answer = read(more)
  if (!answer.ok) throw new Error(answer.faults.join('\n'))
  return { provider: answer.config.provider, header: answer.config.forwardAuthHeader, shown: answer.shown.join('\n') }
}
const faults = (more: Environment) => {
  const answer = read(more)
  return answer.ok ? [] : answer.faults
}

test('nothing is on unless it is set', () => {
  expect(settings({})).toMatchObject({ provider: undefined, header: undefined })
})

test('a provider, with its secret given or in a file', () => {
  const provider = { issuer: 'https://id.example/realm', clientId: 'loom', clientSecret: null, name: 'the provider', linksByEmail: false }
  expect(settings(OIDC).provider).toEqual(provider)
  const all = { ...OIDC, [SECRET]: 's', LOOMBOOK_OIDC_NAME: 'Keys', LOOMBOOK_OIDC_LINK_BY_EMAIL: 'yes' }
  expect(settings(all).provider).toEqual({ ...provider, clientSecret: 's', name: 'Keys', linksByEmail: true })
  expect(settings({ ...OIDC, [`${SECRET}_FILE`]: join(folder, 'secret') }).provider?.clientSecret).toBe('from a file')
})

test('each is shown, the secret as kept', () => {
  const { shown } = settings({ ...OIDC, [SECRET]: 'hush hush' })
  for (const line of [`${SECRET}=(kept secret)`, 'LOOMBOOK_OIDC_ISSUER=https://id.example/realm', 'LOOMBOOK_OIDC_NAME=  (not set)'])
    expect(shown.split('\n')).toContain(line)
  expect(shown).not.toContain('hush')
})

test('a blank secret is no secret: the start ends with its name, whether it was given or lay in a file', () => {
  const says = [`${SECRET} is blank: a provider that gives no secret needs none set.`]
  for (const blank of ['', ' ', '\t\n']) expect(faults({ ...OIDC, [SECRET]: blank })).toEqual(says)
  expect(faults({ ...OIDC, [`${SECRET}_FILE`]: join(folder, 'blank') })).toEqual(says)
})

test.each<[Environment, readonly string[]]>([
  [{ LOOMBOOK_OIDC_ISSUER: OIDC.LOOMBOOK_OIDC_ISSUER }, ['LOOMBOOK_OIDC_CLIENT_ID are needed']],
  [{ LOOMBOOK_OIDC_NAME: 'Keys' }, ['LOOMBOOK_OIDC_CLIENT_ID are needed']],
  [{ ...OIDC, LOOMBOOK_OIDC_CLIENT_ID: '' }, ['LOOMBOOK_OIDC_CLIENT_ID is what the provider calls']],
  [{ ...OIDC, LOOMBOOK_OIDC_NAME: 'x'.repeat(61) }, ['LOOMBOOK_OIDC_NAME is what the button says']],
  [{ ...OIDC, LOOMBOOK_OIDC_ISSUER: 'http://id.example' }, ['LOOMBOOK_OIDC_ISSUER is an https address']],
  [{ ...OIDC, LOOMBOOK_OIDC_ISSUER: 'https://id.example/?x=1' }, ['LOOMBOOK_OIDC_ISSUER is an https address']],
  [{ ...OIDC, LOOMBOOK_OIDC_ISSUER: 'id.example' }, ['LOOMBOOK_OIDC_ISSUER is an https address']],
  [
    { ...OIDC, LOOMBOOK_OIDC_LINK_BY_EMAIL: 'true', [SECRET]: 'hush', [`${SECRET}_FILE`]: '/nowhere/secret' },
    ['LOOMBOOK_OIDC_LINK_BY_EMAIL is yes or no', 'are both given', 'cannot be read (ENOENT)'],
  ],
  [{ LOOMBOOK_FORWARD_AUTH_HEADER: 'Remote-User' }, ['needs LOOMBOOK_TRUSTED_PROXIES']],
  // Nobody is trusted: then nobody's word would count, or, before long, everybody's.
  ...['', ' , '].map((none): [Environment, readonly string[]] => [
    { LOOMBOOK_FORWARD_AUTH_HEADER: 'Remote-User', LOOMBOOK_TRUSTED_PROXIES: none },
    ['needs LOOMBOOK_TRUSTED_PROXIES'],
  ]),
  // The widest networks that are one's own: 10.0.0.0/8 (RFC 1918), fc00::/7 (RFC 4193); ::ffff:0:0/96 is all of IPv4 (RFC 4291, 2.5.5.2).
  ...[
    '0.0.0.0/0',
    '::/0',
    '0.0.0.0/1',
    '128.0.0.0/7',
    '2000::/3',
    '::/8',
    '::/64',
    '::fffe:0:0/95',
    '::ffff:0:0/96',
    '::ffff:0.0.0.0/96',
    '0:0:0:0:0:FFFF::/103',
  ].map((wide): [Environment, readonly string[]] => [
    { LOOMBOOK_FORWARD_AUTH_HEADER: 'Remote-User', LOOMBOOK_TRUSTED_PROXIES: `10.0.0.1 ${wide}` },
    [`LOOMBOOK_TRUSTED_PROXIES holds "${wide}", more than any network of one’s own`],
  ]),
  [{ LOOMBOOK_FORWARD_AUTH_HEADER: 'X-Forwarded-For', LOOMBOOK_TRUSTED_PROXIES: '10.0.0.1' }, ['only the proxy sets']],
  [{ LOOMBOOK_FORWARD_AUTH_HEADER: 'Authorization', LOOMBOOK_TRUSTED_PROXIES: '10.0.0.1' }, ['only the proxy sets']],
  [{ LOOMBOOK_FORWARD_AUTH_HEADER: 'a b', LOOMBOOK_TRUSTED_PROXIES: '10.0.0.1' }, ['only the proxy sets']],
  [{ LOOMBOOK_FORWARD_AUTH_HEADER: 'Remote-User', LOOMBOOK_TRUSTED_PROXIES: '10.0.0.0/99' }, ['LOOMBOOK_TRUSTED_PROXIES is a list']],
])('every fault is named, and no secret: %o', (environment, says) => {
  const named = faults(environment)
  expect(named).toHaveLength(says.length)
  for (const one of says)
    expect(
      named.some((fault) => fault.includes(one)),
      one,
    ).toBe(true)
  expect(named.join()).not.toContain('hush')
})

test.each([
  '10.0.0.0/8',
  '172.16.0.0/12',
  '127.0.0.1/32',
  '::1',
  'fc00::/7',
  '2001:db8::/32',
  '::ffff:10.0.0.0/104',
  '::ffff:10.0.0.1/128',
])('a proxy may be one of a network of one’s own: %s', (network) => {
  expect(faults({ LOOMBOOK_FORWARD_AUTH_HEADER: 'Remote-User', LOOMBOOK_TRUSTED_PROXIES: network })).toEqual([])
})

test('without a header that names people everybody may be trusted with the caller’s address, as before', () => {
  expect(faults({ LOOMBOOK_TRUSTED_PROXIES: '0.0.0.0/0, ::/0' })).toEqual([])
})

test('a proxy’s header is known in whatever letters it is written', () => {
  const environment = { LOOMBOOK_FORWARD_AUTH_HEADER: 'Remote-User', LOOMBOOK_TRUSTED_PROXIES: '10.0.0.1' }
  expect(settings(environment).header).toBe('remote-user')
})
