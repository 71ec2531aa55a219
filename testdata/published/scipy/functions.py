"""Values of link and distribution functions, by SciPy; writes functions.json."""
import json
import scipy
from scipy.special import expit, logit
from scipy.stats import chi2, f, norm
import numpy as np

points = [-40.0, -12.5, -3.0, -0.25, 0.0, 0.5, 2.0, 9.0, 30.0]
out = {"source": "SciPy %s; script functions.py" % scipy.__version__,
       "expit": [{"x": x, "value": float(expit(x)), "complement": float(expit(-x))} for x in points],
       "logit": [{"p": p, "value": float(logit(p))} for p in [1e-12, 1e-5, 0.02, 0.3, 0.5, 0.77, 0.999]],
       # survival exp(-exp(eta)) and its complement: the complementary log-log link
       "rate": [{"eta": x, "length": l, "survival": float(np.exp(-l * np.exp(x))), "mortality": float(-np.expm1(-l * np.exp(x)))}
                for x in [-20.0, -8.0, -3.0, -0.5, 0.7] for l in [0.5, 1.0, 14.2]],
       "chi2_quantile": [{"p": p, "df": d, "value": float(chi2.ppf(p, d))} for p, d in [(0.9, 1), (0.95, 1), (0.99, 1), (0.95, 5), (0.5, 12)]],
       "chi2_tail": [{"x": x, "df": d, "value": float(chi2.sf(x, d))} for x, d in [(3.84, 1), (6.734888067, 1), (16.046623814974712, 12), (80.0, 20)]],
       "f_tail": [{"x": x, "df1": a, "df2": b, "value": float(f.sf(x, a, b))} for x, a, b in [(4.49, 1, 422), (2.1, 5, 60)]],
       "normal_quantile": [{"p": p, "value": float(norm.ppf(p))} for p in [0.5, 0.9, 0.975, 0.995, 0.9999]]}
with open("functions.json", "w") as file:
    json.dump(out, file, indent=1)
    file.write("\n")
