// The element in a React page. From version 19 on React sets properties and hears events of custom
// elements by itself: `view` below is a property, `onviewchange` an event.
import { useState } from "react";
import { createRoot } from "react-dom/client";

const SEEN = {
  "As found": { left: "as-found", compare: "one" },
  "By the evidence": { left: "evidence-based", compare: "one" },
  "Side by side": { left: "as-found", right: "evidence-based", compare: "swipe" },
};

function Boss({ src }) {
  const [view, setView] = useState(SEEN["Side by side"]);
  const [shown, setShown] = useState("");
  return (
    <section>
      <h2>The Sallowmere boss</h2>
      <ganosis-view src={src} controls="none" view={view} onviewchange={(event) => setShown(event.detail.left)} />
      {Object.entries(SEEN).map(([name, one]) => (
        <button key={name} type="button" aria-pressed={view === one} onClick={() => setView(one)}>{name}</button>
      ))}
      <p>On the first side: <output>{shown}</output></p>
    </section>
  );
}

createRoot(document.querySelector("#root")).render(<Boss src="../../sallowmere-boss/" />);
