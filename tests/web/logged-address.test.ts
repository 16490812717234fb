/** Whatever way an address is spelt, no token that stands in it reaches a log. */
import { randomBytes } from 'node:crypto'
import { describe, expect, test } from 'vitest'
import { loggedAddress } from '../../server/web/logged-address.ts'

/** As the house makes them: 32 random bytes. This one has every sort of character that they may have. */
const TOKEN = 'Zk3-vQ_x7PfR0aYtWmE9nLbC5hJdGuS2iKoX8qVrT4w'
const escaped = (text: string) => [...text].map((one) => `%${one.charCodeAt(0).toString(16)}`).join('')

describe('a token', () => {
  test.each([
    ['at its place', `/join/${TOKEN}`, '/join/(token)'],
    ['of a build page', `/b/${TOKEN}`, '/b/(token)'],
    ['of a feed', `/feeds/${TOKEN}.ics`, '/feeds/(token).ics'],
    ['under a folder of a site that is no longer ours', `/old/b/${TOKEN}`, '/old/b/(token)'],
    ['so, with a page of it', `/old/b/${TOKEN}/p/3`, '/old/b/(token)/p/3'],
    ['so, that is short', '/old/b/SECRET', '/old/b/(token)'],
    ['under two folders', `/x/y/new-password/${TOKEN}`, '/x/y/new-password/(token)'],
    ['after two slashes', `//join/${TOKEN}`, '/join/(token)'],
    ['after two slashes, that is short', '//join/TOKEN', '/join/(token)'],
    ['in capitals', `/JOIN/${TOKEN}`, '/JOIN/(token)'],
    ['in capitals, that is short', '/JOIN/abc', '/JOIN/(token)'],
    ['with an escaped letter', `/%6aoin/${TOKEN}`, '/join/(token)'],
    ['with an escaped letter, that is short', '/%6Aoin/abc', '/join/(token)'],
    ['with an escaped hyphen', `/new%2Dpassword/${TOKEN}`, '/new-password/(token)'],
    ['after two slashes within', `/feeds//${TOKEN}.ics`, '/feeds/(token).ics'],
    ['after two slashes within, that is short', '/feeds//TOKEN.ics', '/feeds/(token).ics'],
    ['after escaped slashes', `/join%2f${TOKEN}`, '/join/(token)'],
    ['escaped itself', `/join/${escaped(TOKEN)}`, '/join/(token)'],
    ['escaped twice', `/%256aoin/${escaped(TOKEN).replaceAll('%', '%25')}`, '/join/(token)'],
    ['escaped eight times', `/join/${escaped(TOKEN).replaceAll('%', `%${'25'.repeat(8)}`)}`, '/join/(token)'],
    ['escaped by escapes', `/x/${escaped(escaped(TOKEN))}`, '/x/(token)'],
    ['after a backslash', `/join\\${TOKEN}`, '/join/(token)'],
    ['after a dot piece', `/join/./${TOKEN}`, '/join/(token)/(token)'],
    ['with a space before', `/%20join/${TOKEN}`, '/%20join/(token)'],
    ['whose place is misspelt', `/jion/${TOKEN}`, '/jion/(token)'],
    ['whose place is missing', `/${TOKEN}`, '/(token)'],
    ['run into its place', `/join${TOKEN}`, '/(token)'],
    ['after another sign than a slash', `/join;${TOKEN}`, '/join;(token)'],
    ['with letters of another alphabet in its place', `/%EF%BD%8Aoin/${TOKEN}`, '/%EF%BD%8Aoin/(token)'],
    ['that was cut off', `/jion/${TOKEN.slice(0, 20)}`, '/jion/(token)'],
    ['with a line end in it', `/old/join/${TOKEN}%0a`, '/old/join/(token)'],
    ['where a line end stays', `/%0a/join/${TOKEN}`, '/%0a/join/(token)'],
    ['in small letters', `/jion/${TOKEN.toLowerCase()}`, '/jion/(token)'],
    ['with what was asked for', `/old/b/${TOKEN}?x=${TOKEN}`, '/old/b/(token)?…'],
    ['where ? is escaped', `/login%3fnext=/join/${TOKEN}`, '/login?next=/join/(token)'],
  ])('%s', (_, url, told) => {
    expect(loggedAddress(url)).toBe(told)
  })

  test('none of a thousand is told, under ten spellings each', () => {
    for (let n = 0; n < 1000; n++) {
      const token = randomBytes(32).toString('base64url')
      for (const start of ['/b/', '/x/b/', '//b//', '/B/', '/JOIN/', '/joim/', '/', '/feeds/%2e/', '/new%252dpassword/', '/api/'])
        expect(loggedAddress(start + token), start).not.toContain(token)
    }
  })

  test('the longest address that is taken at all is read in no time', () => {
    const begun = performance.now()
    loggedAddress(`/${'%25'.repeat(680)}`)
    loggedAddress(`/%${'25'.repeat(1020)}`)
    expect(performance.now() - begun).toBeLessThan(200)
  })
})

test.each([
  '/',
  '/vehicles/0193a1b2-c3d4-7e5f-8a9b-0c1d2e3f4a5b/components/relay-of-the-headlights-2',
  '/settings/backups/2026-11-27T12-00-00-000Z',
  '/feeds',
  '/feeds/revocations',
  '/vehicles/feeds/abc.ics',
  '/branches/b/open',
  '/static/on-paper.css',
  '/search?…',
  '/nothing%20here',
])('%s is told as it is', (url) => {
  expect(loggedAddress(url)).toBe(url)
})
