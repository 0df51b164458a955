"""What you can weigh: raw materials, blends, premixes, and how to find them."""

from labkit.materials.collection import Materials
from labkit.materials.decomposition import Decomposition, decompose
from labkit.materials.model import Constituent, Material, Partition, Price, SourceRef

__all__ = [
    "Constituent",
    "Decomposition",
    "Material",
    "Materials",
    "Partition",
    "Price",
    "SourceRef",
    "decompose",
]
