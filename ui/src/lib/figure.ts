/** The number of a figure, however it was written; null for none. */
export function figureOf(figure: unknown): number | null {
  if (typeof figure === 'number') return figure
  return typeof figure === 'object' && figure !== null && 'value' in figure && typeof figure.value === 'number' ? figure.value : null
}
