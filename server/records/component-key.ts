import { plainForm } from './plain-form.ts'

/** A component's key: the slug of its name, made unique within the vehicle by a number. */
export function componentKey(name: string, taken: { has(key: string): boolean }): string {
  const slug = slugOf(name)
  if (!taken.has(slug)) return slug
  for (let number = 2; ; number += 1) {
    const key = `${slug.slice(0, 70)}-${number}`
    if (!taken.has(key)) return key
  }
}

export function slugOf(name: string): string {
  const slug = plainForm(name, 'NFKD')
    .toLowerCase()
    .replace(/[\u0300-\u036f]/g, '')
    .replace(/[^a-z0-9]+/g, '-')
    .replace(/^-+|-+$/g, '')
    .slice(0, 70)
    .replace(/-+$/, '')
  return slug === '' ? 'component' : slug
}
