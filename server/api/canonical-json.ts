/**
 * One text for one value, however its JSON was put down: no blanks, and fields in the order of their names' UTF-16 code units, as in RFC 8785,
 * 3.2. Numbers and texts are written as ECMAScript writes them, which is what that standard asks for.
 */
export function canonicalJson(value: unknown): string {
  if (Array.isArray(value)) return `[${value.map(canonicalJson).join(',')}]`
  if (typeof value !== 'object' || value === null) return JSON.stringify(value)
  const fields = Object.entries(value).sort(([one], [other]) => (one < other ? -1 : 1))
  return `{${fields.map(([name, inner]) => `${JSON.stringify(name)}:${canonicalJson(inner)}`).join(',')}}`
}
