import { useBench } from '../desk/bench-store.ts';
import { keep, kept } from '../parts/kept.ts';

/** What the user chose; 'system' follows the computer's own setting. */
export type Theme = 'day' | 'night' | 'system';

const KEY = 'theme';
const themes: readonly Theme[] = ['system', 'day', 'night'];

/** The theme that is shown for a choice. */
export function shownTheme(theme: Theme, systemIsDark: boolean): 'day' | 'night' {
  return theme === 'system' ? (systemIsDark ? 'night' : 'day') : theme;
}

/** The choice after this one, for a command that steps through them. */
export function nextTheme(theme: Theme): Theme {
  return themes[(themes.indexOf(theme) + 1) % themes.length]!;
}

/** Changes the theme and remembers it. */
export function setTheme(theme: Theme): void {
  keep(KEY, theme);
  useBench.setState({ theme });
}

/** Reads the remembered theme and keeps the page in it; called once. */
export function startTheme(): void {
  const remembered = kept(KEY);
  const theme = themes.find((one) => one === remembered);
  if (theme !== undefined) useBench.setState({ theme });
  const dark = matchMedia('(prefers-color-scheme: dark)');
  const show = (): void => {
    document.documentElement.dataset['theme'] = shownTheme(useBench.getState().theme, dark.matches);
  };
  dark.addEventListener('change', show);
  useBench.subscribe(show);
  show();
}
