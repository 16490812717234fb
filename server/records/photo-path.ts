/** Where the original of a photo or paper lies: photos/ab/cd/<sha256>.<extension> under the data folder. */
import { join } from 'node:path'

export const extensions: Readonly<Record<string, string>> = {
  'image/jpeg': 'jpg',
  'image/png': 'png',
  'image/webp': 'webp',
  'image/avif': 'avif',
  'image/heic': 'heic',
  'application/pdf': 'pdf',
}

/** The path under the data folder, with forward slashes, as manifests name it. */
export function photoName(given: { readonly sha256: string; readonly type: string }): string {
  const { sha256, type } = given
  return `photos/${sha256.slice(0, 2)}/${sha256.slice(2, 4)}/${sha256}.${extensions[type] ?? 'bin'}`
}

export function photoPath(given: { readonly data: string; readonly sha256: string; readonly type: string }): string {
  return join(given.data, ...photoName(given).split('/'))
}
