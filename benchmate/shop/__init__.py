"""What the person writes: bench, dies, tubes and jobs, from YAML to frozen structs."""

from benchmate.shop.folder import Shop
from benchmate.shop.reading import Problem

__all__ = ["Problem", "Shop"]
