import { useView } from '../../desk/desk-store.ts';

/** The bench of Picture. */
export function PictureBench() {
  const view = useView();
  return (
    <div className="picture">
      <h2>Picture</h2>
      <p className="faint">{view.steps.picture.sentence}</p>
    </div>
  );
}
