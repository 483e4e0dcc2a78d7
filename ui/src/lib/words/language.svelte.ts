/** The languages there is a catalogue for, each by its own name. */
export const LANGUAGES = { en: 'English', es: 'Español' } as const

/** One of them. */
export type Language = keyof typeof LANGUAGES

/** The language of the screen; whatever is said changes with it. */
export const language = $state<{ now: Language }>({ now: 'en' })
