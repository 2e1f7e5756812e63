import { useBench } from '../desk/bench-store.ts';
import { setTheme, type Theme } from './theme.ts';

/** Day, night, or as the computer is set. */
export function ThemeChoice() {
  const theme = useBench((state) => state.theme);
  return (
    <select
      className="theme-choice"
      aria-label="Colours of the screen"
      title="Colours of the screen"
      value={theme}
      onChange={(event) => setTheme(event.target.value as Theme)}
    >
      <option value="system">Colours: system</option>
      <option value="day">Paper, by day</option>
      <option value="night">Ink, by night</option>
    </select>
  );
}
