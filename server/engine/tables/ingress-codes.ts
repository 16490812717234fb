/** IP codes of IEC 60529 and ISO 20653, compared numeral by numeral. Read in comparisons of the two; the K rows are memory. */

/** 'meets', 'fails', or 'unknown' where the part's code leaves out a numeral that is asked for. */
export function ingressMeets(given: { readonly part: string; readonly zone: string }): 'meets' | 'fails' | 'unknown' {
  const [has, asks] = [numerals(given.part), numerals(given.zone)]
  const answers = [solidMeets(has.solid, asks.solid), waterMeets(has.water, asks.water)]
  if (answers.includes('fails')) return 'fails'
  return answers.includes('unknown') ? 'unknown' : 'meets'
}

function numerals(code: string): { readonly solid: string; readonly water: string } {
  const found = /^IP([0-9X]K?)([0-9X]K?)$/.exec(code)
  return { solid: found?.[1] ?? 'X', water: found?.[2] ?? 'X' }
}

function solidMeets(has: string, asks: string): 'meets' | 'fails' | 'unknown' {
  if (asks === 'X' || asks === '0') return 'meets'
  if (has === 'X') return 'unknown'
  return Number(has[0]) >= Number(asks[0]) ? 'meets' : 'fails'
}

/** Numerals to 6 include the lower ones. 7, 8 and 9 are tests of their own: they include splash (4), not jets (5, 6). */
function waterMeets(has: string, asks: string): 'meets' | 'fails' | 'unknown' {
  if (asks === 'X' || asks === '0') return 'meets'
  if (has === 'X') return 'unknown'
  const [h, a] = [Number(has[0]), Number(asks[0])]
  if (asks === '4K' || asks === '6K') return has === asks || has === '6K' ? 'meets' : 'fails'
  if (a <= 6) return (h <= 6 && h >= a) || (h > 6 && a <= 4) ? 'meets' : 'fails'
  if (a === 7) return h === 7 || h === 8 ? 'meets' : 'fails'
  return h === a ? 'meets' : 'fails'
}
