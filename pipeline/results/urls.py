from django.urls import include, path

from pipeline.results.sections import SECTIONS
from pipeline.results.views import overview, review, section

# Every section but the first is one page below it.
pages = [
    path(
        f"results/{one.address.removeprefix('results-')}/",
        section.page if one.open else section.owners_page,
        {"address": one.address},
        name=one.address,
    )
    for one in SECTIONS[1:]
]

urlpatterns = [
    path("results/", overview.page, name="results"),
    *pages,
    path("results/review/", review.page, name="results-review"),
    path("results/rates/", include("pipeline.results.rates.urls")),
]
