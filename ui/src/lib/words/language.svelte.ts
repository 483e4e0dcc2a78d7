/** The languages there is a catalogue for, each by its own name. */
export const LANGUAGES = { en: 'English', es: 'Español' } as const

/** One of them. */
export type Language = keyof typeof LANGUAGES

/**
 * The language of the screen; whatever is said changes with it. Stretched, every sentence is four tenths longer: no
 * language, but a way to see whether the screens have room for one that nobody has written yet.
 */
export const language = $state<{ now: Language; stretched: boolean }>({ now: 'en', stretched: false })
