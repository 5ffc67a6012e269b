"""What the person writes: bench, dies, tubes and jobs, from YAML to frozen structs."""

from benchmate.shop.field_readers import Problem
from benchmate.shop.folder import Shop

__all__ = ["Problem", "Shop"]
