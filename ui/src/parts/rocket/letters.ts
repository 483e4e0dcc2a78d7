/** Letters of motors as boxes have them (NFPA 1122), smallest first; 1/8A is for sale hardly anywhere. */
export const LETTERS = ['1/4A', '1/2A', 'A', 'B', 'C', 'D', 'E', 'F', 'G'] as const
