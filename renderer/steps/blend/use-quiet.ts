import { useEffect, useState } from 'react';

/** Whether the user asked the system for less motion. */
export function useQuiet(): boolean {
  const [isQuiet, setQuiet] = useState(() => matchMedia('(prefers-reduced-motion: reduce)').matches);
  useEffect(() => {
    const asked = matchMedia('(prefers-reduced-motion: reduce)');
    const take = (): void => setQuiet(asked.matches);
    asked.addEventListener('change', take);
    return () => asked.removeEventListener('change', take);
  }, []);
  return isQuiet;
}
