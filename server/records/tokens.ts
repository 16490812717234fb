/** Secrets handed out once: 256 random bits, of which only a hash is kept. A fast hash is right for what cannot be guessed. */
import { createHash, randomBytes } from 'node:crypto'

export function newToken(): string {
  return randomBytes(32).toString('base64url')
}

export function hashToken(token: string): string {
  return createHash('sha256').update(token).digest('hex')
}
