/** Passwords: which are taken, and how they are kept (scrypt). Rules after OWASP ASVS 5.0, 6.2: length, no common ones, no other demand. */
import { randomBytes, scrypt, scryptSync, timingSafeEqual } from 'node:crypto'
import { dictionary } from '@zxcvbn-ts/language-common'
import type { Refusal } from './contract.ts'
import { refusal } from './refusals.ts'

/** As hard as N = 2¹⁷ with p = 1 (OWASP password storage cheat sheet), with a quarter of its memory. */
const COST = { N: 32768, r: 8, p: 3, maxmem: 96 * 1024 * 1024 } as const
/** `mostTyped`: letters typed with their marks apart are up to four signs for one, and longer texts are not taken apart to be counted. */
const LENGTHS = { least: 8, most: 1000, mostTyped: 4000 } as const

let common: ReadonlySet<string> | null = null

/** What is wrong with a password that someone chose; `field` is where it was typed, `name` whose it is. */
export function faultsOfPassword(password: string, given: { readonly field?: string; readonly name?: string } = {}): readonly Refusal[] {
  const { field = 'password', name = '' } = given
  if (isTooLong(password)) return [refusal('not-valid', `Choose a password of at most ${LENGTHS.most} characters.`, { field })]
  const letters = [...password.normalize('NFKC')]
  if (letters.length < LENGTHS.least)
    return [refusal('not-valid', `Choose a password of at least ${LENGTHS.least} characters; a few words are best.`, { field })]
  if (['loombook', bare(name)].includes(bare(password)))
    return [refusal('not-valid', 'That is a name with a few signs around it. Choose another; a few words are best.', { field })]
  common ??= new Set(dictionary['passwords-common'])
  if (common.has(letters.join('').toLowerCase()))
    return [
      refusal('not-valid', 'That password is one of the first that anybody would try. Choose another; a few words are best.', { field }),
    ]
  return []
}

/** Marks behind one letter are put in order by the square of their number: so the length is asked first. */
function isTooLong(password: string): boolean {
  return password.length > LENGTHS.mostTyped || [...password.normalize('NFKC')].length > LENGTHS.most
}

/** The letters alone, so that a name followed by a year is still that name. Empty for a password without any letter. */
function bare(text: string): string {
  return (
    text
      .slice(0, LENGTHS.mostTyped)
      .normalize('NFKC')
      .toLowerCase()
      .replace(/[^\p{L}]/gu, '') || text
  )
}

export async function hashPassword(password: string): Promise<string> {
  const salt = randomBytes(16)
  return kept(salt, await derived(password, { salt, length: 32, cost: COST }))
}

/** The same while nobody else is waiting: on the first run and on the command line. */
export function hashPasswordNow(password: string): string {
  const salt = randomBytes(16)
  return kept(salt, scryptSync(password.normalize('NFKC'), salt, 32, COST))
}

function kept(salt: Buffer, hash: Buffer): string {
  return ['scrypt', COST.N, COST.r, COST.p, salt.toString('base64url'), hash.toString('base64url')].join('$')
}

/** `isOld`: it was kept by weaker figures than today's and should be kept anew now that it is known. */
export async function passwordMatches(password: string, stored: string): Promise<{ readonly right: boolean; readonly isOld: boolean }> {
  const [, N, r, p, salt, hash] = stored.split('$')
  if (!salt || !hash) return { right: false, isOld: false }
  const wanted = Buffer.from(hash, 'base64url')
  const cost = { N: Number(N), r: Number(r), p: Number(p), maxmem: COST.maxmem }
  // Nobody has a longer one; it takes as long all the same, and nothing is cut off to make it fit.
  const isPossible = !isTooLong(password)
  const found = await derived(isPossible ? password : '', { salt: Buffer.from(salt, 'base64url'), length: wanted.length, cost })
  return { right: timingSafeEqual(found, wanted) && isPossible, isOld: cost.N !== COST.N || cost.r !== COST.r || cost.p !== COST.p }
}

/** Compared when nobody has that name, so that the answer takes as long. */
export const UNMATCHABLE = kept(randomBytes(16), randomBytes(32))

function derived(
  password: string,
  given: { readonly salt: Buffer; readonly length: number; readonly cost: Parameters<typeof scrypt>[3] },
): Promise<Buffer> {
  return new Promise((resolve, reject) => {
    scrypt(password.normalize('NFKC'), given.salt, given.length, given.cost, (fault, found) => {
      if (fault) reject(fault)
      else resolve(found)
    })
  })
}
