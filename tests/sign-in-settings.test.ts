import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { expect, test } from 'vitest'
import { signInSettings } from '../server/sign-in-settings.ts'

const OIDC = { LOOMBOOK_OIDC_ISSUER: 'https://id.example/realm', LOOMBOOK_OIDC_CLIENT_ID: 'loom' }

test('nothing is on unless it is set', () => {
  expect(signInSettings({ HOME: '/home/x' })).toEqual({ settings: {}, faults: [] })
})

test('a provider, with its secret given or in a file', () => {
  const folder = mkdtempSync(join(tmpdir(), 'settings-'))
  writeFileSync(join(folder, 'secret'), 'from a file\n')
  const provider = { issuer: 'https://id.example/realm', clientId: 'loom', clientSecret: null, name: 'the provider', linksByEmail: false }
  expect(signInSettings(OIDC)).toEqual({ settings: { provider }, faults: [] })
  expect(
    signInSettings({ ...OIDC, LOOMBOOK_OIDC_CLIENT_SECRET: 's', LOOMBOOK_OIDC_NAME: 'Keys', LOOMBOOK_OIDC_LINK_BY_EMAIL: 'yes' }),
  ).toEqual({
    settings: { provider: { ...provider, clientSecret: 's', name: 'Keys', linksByEmail: true } },
    faults: [],
  })
  const fromFile = signInSettings({ ...OIDC, LOOMBOOK_OIDC_CLIENT_SECRET_FILE: join(folder, 'secret') })
  expect(fromFile.settings.provider?.clientSecret).toBe('from a file')
  rmSync(folder, { recursive: true })
})

test.each([
  [{ LOOMBOOK_OIDC_ISSUER: OIDC.LOOMBOOK_OIDC_ISSUER }, ['LOOMBOOK_OIDC_CLIENT_ID are needed']],
  [{ ...OIDC, LOOMBOOK_OIDC_ISSUER: 'http://id.example' }, ['LOOMBOOK_OIDC_ISSUER is an https address']],
  [{ ...OIDC, LOOMBOOK_OIDC_ISSUER: 'https://id.example/?x=1' }, ['LOOMBOOK_OIDC_ISSUER is an https address']],
  [{ ...OIDC, LOOMBOOK_OIDC_ISSUER: 'id.example' }, ['LOOMBOOK_OIDC_ISSUER is an https address']],
  [
    {
      ...OIDC,
      LOOMBOOK_OIDC_LINK_BY_EMAIL: 'true',
      LOOMBOOK_OIDC_CLIENT_SECRET: 'hush',
      LOOMBOOK_OIDC_CLIENT_SECRET_FILE: '/nowhere/secret',
    },
    ['LOOMBOOK_OIDC_LINK_BY_EMAIL is yes or no', 'are both given', 'cannot be read (ENOENT)'],
  ],
  [{ LOOMBOOK_FORWARD_AUTH_HEADER: 'Remote-User' }, ['needs LOOMBOOK_TRUSTED_PROXIES']],
  [{ LOOMBOOK_FORWARD_AUTH_HEADER: 'X-Forwarded-For', LOOMBOOK_TRUSTED_PROXIES: '10.0.0.1' }, ['only the proxy sets']],
  [{ LOOMBOOK_FORWARD_AUTH_HEADER: 'Authorization', LOOMBOOK_TRUSTED_PROXIES: '10.0.0.1' }, ['only the proxy sets']],
  [{ LOOMBOOK_FORWARD_AUTH_HEADER: 'a b', LOOMBOOK_TRUSTED_PROXIES: '10.0.0.1' }, ['only the proxy sets']],
])('every fault is named, and no secret: %o', (environment, says) => {
  const { faults } = signInSettings(environment)
  expect(faults).toHaveLength(says.length)
  for (const one of says)
    expect(
      faults.some((fault) => fault.includes(one)),
      one,
    ).toBe(true)
  expect(faults.join()).not.toContain('hush')
})

test('a proxy’s header is known in whatever letters it is written', () => {
  const environment = { LOOMBOOK_FORWARD_AUTH_HEADER: 'Remote-User', LOOMBOOK_TRUSTED_PROXIES: '10.0.0.1' }
  expect(signInSettings(environment)).toEqual({ settings: { forwardAuthHeader: 'remote-user' }, faults: [] })
})
