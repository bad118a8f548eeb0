"""Makes principal_components.json: principal components of a small set of bands by NumPy.

    python3 -m venv v && v/bin/pip install numpy==2.4.6 && v/bin/python principal_components.py
"""

import json

import numpy as np

rng = np.random.default_rng(1340)
n = 200
# Three hidden causes behind five bands, with noise.
causes = rng.normal(size=(n, 3)) * [1.0, 0.4, 0.1]
mixing = rng.normal(size=(3, 5))
bands = (causes @ mixing + 0.02 * rng.normal(size=(n, 5)) + [40, 35, 50, 20, 60]).astype(np.float32)
x = bands.astype(np.float64)


def components(x, standardised):
    means = x.mean(axis=0)
    scales = x.std(axis=0, ddof=1) if standardised else np.ones(x.shape[1])
    z = (x - means) / scales
    values, vectors = np.linalg.eigh(np.cov(z, rowvar=False))
    order = np.argsort(values)[::-1]
    values, vectors = values[order], vectors[:, order]
    signs = np.sign(vectors[np.abs(vectors).argmax(axis=0), range(vectors.shape[1])])
    vectors = vectors * signs
    return {
        "means": means.tolist(),
        "variances": values.tolist(),
        "explained": (values / values.sum()).tolist(),
        "loadings": vectors.T.tolist(),
        "first_pixels": (z @ vectors)[:10].tolist(),
    }


with open("principal_components.json", "w") as out:
    json.dump(
        {
            "_comment": f"NumPy {np.__version__}, numpy.linalg.eigh of numpy.cov; made by principal_components.py",
            "bands": bands.T.tolist(),
            "covariance": components(x, False),
            "correlation": components(x, True),
        },
        out,
        indent=None,
    )
    out.write("\n")
