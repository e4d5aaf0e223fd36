"""What a product carries, from its grade."""

import re
from dataclasses import dataclass

from vrp.errors import InputError

_GRADE = re.compile(r"(\d+(?:\.\d+)?)-(\d+(?:\.\d+)?)-(\d+(?:\.\d+)?)", re.ASCII)


@dataclass(frozen=True, slots=True)
class Grade:
    """
    A product's grade: N, P2O5 and K2O.

    Attributes
    ----------
    nitrogen : float
        N. [percent by weight]
    p2o5 : float
        P2O5. [percent by weight]
    k2o : float
        K2O. [percent by weight]
    """

    nitrogen: float
    p2o5: float
    k2o: float

    @classmethod
    def parse(cls, text: str) -> "Grade":
        """
        Grade from its usual text.

        Parameters
        ----------
        text : str
            Such as ``11-52-0``: N, P2O5 and K2O in percent by weight.

        Returns
        -------
        Grade
            The three percentages.

        Raises
        ------
        InputError
            If the text is no grade, carries no P2O5, or sums to more than 100 %.

        Examples
        --------
        >>> Grade.parse("11-52-0")
        Grade(nitrogen=11.0, p2o5=52.0, k2o=0.0)
        """
        match = _GRADE.fullmatch(text.strip())
        if match is None:
            message = f"grade {text!r}: write N-P2O5-K2O in percent, such as 11-52-0"
            raise InputError(message)
        grade = cls(*(float(part) for part in match.groups()))
        if grade.p2o5 == 0.0:
            message = f"grade {text}: carries no P2O5; choose a product that does"
            raise InputError(message)
        total = grade.nitrogen + grade.p2o5 + grade.k2o
        if total > 100.0:
            message = f"grade {text}: sums to {total:g} %, more than 100 %"
            raise InputError(message)
        return grade

    def __str__(self) -> str:
        """Return the grade as it is written."""
        return f"{self.nitrogen:g}-{self.p2o5:g}-{self.k2o:g}"

    def product(self, p2o5: float) -> float:
        """
        Product that carries an amount of P2O5.

        Parameters
        ----------
        p2o5 : float
            P2O5, in any unit of mass or of mass per area.

        Returns
        -------
        float
            Product, in the same unit.
        """
        return p2o5 * 100.0 / self.p2o5

    def carried(self, product: float) -> tuple[float, float, float]:
        """
        Return the nutrients that an amount of product carries.

        Parameters
        ----------
        product : float
            Product, in any unit of mass or of mass per area.

        Returns
        -------
        tuple of float
            N, P2O5 and K2O, in the same unit.
        """
        shares = (self.nitrogen, self.p2o5, self.k2o)
        nitrogen, p2o5, k2o = (product * share / 100.0 for share in shares)
        return nitrogen, p2o5, k2o
