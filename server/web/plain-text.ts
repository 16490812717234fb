/** A line of text without control characters or halves of characters, for formats that a line break would break. */
export function plainLine(text: string): string {
  return text
    .replaceAll(/\p{Cs}/gu, '\uFFFD')
    .replaceAll(/[\p{Cc}\u2028\u2029\uFFFE\uFFFF]+/gu, ' ')
    .trim()
}
