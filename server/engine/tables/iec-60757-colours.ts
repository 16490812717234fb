/** Letter codes of colours, IEC 60757 (memory; the two-colour code of the protective conductor is the one its rule for combinations gives). */

export const COLOUR_NAMES = {
  BK: 'black',
  BN: 'brown',
  RD: 'red',
  OG: 'orange',
  YE: 'yellow',
  GN: 'green',
  BU: 'blue',
  VT: 'violet',
  GY: 'grey',
  WH: 'white',
  PK: 'pink',
  TQ: 'turquoise',
  GD: 'gold',
  SR: 'silver',
  GNYE: 'green and yellow',
} as const

export type ColourLetters = keyof typeof COLOUR_NAMES
export const COLOUR_LETTERS = Object.keys(COLOUR_NAMES) as readonly ColourLetters[]
/** What a refusal says of a colour that is none of these. */
export const COLOURS_ALLOWED = `A colour is one of the letters of IEC 60757: ${COLOUR_LETTERS.join(', ')}.`
