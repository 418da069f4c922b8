using Traceability.Domain.Judging;
using Traceability.Domain.Nonconformances;
using Traceability.Domain.Primitives;
using Traceability.Domain.Tests.Nonconformances;
using Traceability.Testing.Building;
using Xunit;

namespace Traceability.Domain.Tests.Releasing;

/// <summary>A unit with an open nonconformance can't be released; one that is dealt with is not in the way.</summary>
public sealed class NonconformingReleaseTests
{
    private static UnitStory Complete => Lamp.Given.Wired(0).Sealed(5).Done("CLOSE", 10).Done("LABEL", 11).Tested(12);

    private static UnitStory Dark => Lamp.Given.Wired(0).Sealed(5).Done("CLOSE", 10).Done("LABEL", 11).Tested(12, passed: false);

    [Fact]
    public void A_report_is_in_the_way_until_it_is_dealt_with()
    {
        Assert.Empty(Lacking(Complete));
        var story = Complete.Reported(13);
        var id = NonconformanceId.OfReport(story.LastId);

        Assert.Equal(["nonconformance-open CHIP"], Lacking(story));
        Assert.Equal(["nonconformance-open CHIP"], Lacking(story.TakenUp(14, id)));
        Assert.Empty(Lacking(story.Disposed(15, id, Disposition.UseAsIs, Lamp.Wide)));
    }

    [Fact]
    public void A_finding_that_nobody_has_decided_about_is_told_with_its_step()
    {
        var story = Dark;
        var id = story.Last("check-failed", "LIT");

        Assert.Equal(["step-not-passed TEST"], Lacking(story));
        Assert.Empty(Lacking(story.Disposed(20, id, Disposition.UseAsIs, Lamp.Wide)));
    }

    [Fact]
    public void Rework_is_in_the_way_until_it_is_done()
    {
        var story = Dark;
        story.Disposed(20, story.Last("check-failed", "LIT"), Disposition.Rework, null, "TEST");

        Assert.Equal(["nonconformance-open LIT", "step-not-passed TEST"], Lacking(story));
        Assert.Empty(Lacking(story.Tested(30, isRework: true)));
    }

    private static string[] Lacking(UnitStory story) =>
        [.. Release.Ask(new(story.ProductUnit, story.References, []), Some.At(100)).Select(b => $"{b.Code} {b.Rule}").Order(StringComparer.Ordinal)];
}
