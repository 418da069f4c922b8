using System.Text;
using CsCheck;
using Traceability.Service.Features.Scope;
using Traceability.Testing.Scope;
using Xunit;

namespace Traceability.Service.Tests.Scope;

public sealed class SuspectJsonTests
{
    [Fact]
    public void What_is_written_is_read_as_the_same_suspect() =>
        Gen.Int[0, 719].Array[300, 620].Sample(
            choices =>
            {
                var suspect = RandomWork.From(choices, holesMax: 0).Suspect;
                var text = SuspectJson.Write(suspect);
                var read = SuspectJson.Parse(text);
                Assert.Equal(text, SuspectJson.Write(read));
                Assert.Equal(suspect.ToString(), read.ToString());
                Assert.Equal(suspect.Singles(), read.Singles());
            },
            iter: 2_000);

    [Theory]
    [InlineData("""{}""", "/suspect")]
    [InlineData("""{"suspect":5}""", "/suspect")]
    [InlineData("""{"suspect":{}}""", "/suspect/kind")]
    [InlineData("""{"suspect":{"kind":"weather"}}""", "/suspect/kind")]
    [InlineData("""{"suspect":{"kind":"lot","item":"ADH"}}""", "/suspect/lot")]
    [InlineData("""{"suspect":{"kind":"lot","item":"ADH","lot":"L1","container":"C1"}}""", "/suspect/container")]
    [InlineData("""{"suspect":{"kind":"lot","item":"ADH","lot":"L1","from":"2026-03-02T00:00:00Z","to":"2026-03-02T00:00:00Z"}}""", "/suspect/to")]
    [InlineData("""{"suspect":{"kind":"component","item":"ADH","serial":"1","step":"BOND"}}""", "/suspect/step")]
    [InlineData("""{"suspect":{"kind":"tool","tool":"SD-1","window":"lately"}}""", "/suspect/window")]
    [InlineData("""{"suspect":{"kind":"work"}}""", "/suspect")]
    [InlineData("""{"suspect":{"kind":"measured","characteristic":"T"}}""", "/suspect")]
    [InlineData("""{"suspect":{"kind":"measured","characteristic":"T","passed":true}}""", "/suspect/passed")]
    [InlineData("""{"suspect":{"kind":"measured","characteristic":"T","below":{"value":1,"unit":"Nm"}}}""", "/suspect/below/unit")]
    [InlineData("""{"suspect":{"kind":"measured","characteristic":"T","below":{"value":1,"unit":"N.m"},"passed":false}}""", "/suspect")]
    [InlineData("""{"suspect":{"kind":"interval","rule":"CURE"}}""", "/suspect")]
    [InlineData("""{"suspect":{"kind":"interval","rule":"CURE","shorterThan":"8 min"}}""", "/suspect/shorterThan")]
    [InlineData("""{"suspect":{"kind":"and","of":[{"kind":"lot","item":"ADH","lot":"L1"}]}}""", "/suspect/of")]
    [InlineData("""{"suspect":{"kind":"or","of":[{"kind":"lot","item":"ADH","lot":"L1"},{"kind":"lot","item":"ADH","lot":"?"}]}}""", "/suspect/of/1/lot")]
    [InlineData("""{"suspect":{"kind":"except","of":{"kind":"lot","item":"ADH","lot":"L1"}}}""", "/suspect/but")]
    public void A_fault_is_told_with_its_place(string body, string pointer)
    {
        var (suspect, refusal) = SuspectJson.ReadQuestion(Encoding.UTF8.GetBytes(body));

        Assert.Null(suspect);
        Assert.Equal("question-malformed", refusal!.Code);
        Assert.Equal(pointer, Assert.Single(refusal.Faults).Pointer);
    }

    [Fact]
    public void Every_fault_of_a_question_is_told_at_once()
    {
        var (_, refusal) = SuspectJson.ReadQuestion(
            """{"suspect":{"kind":"and","of":[{"kind":"lot","item":5,"lot":""},{"kind":"tool","tool":"a b","setting":[],"colour":"red"},{"kind":"work","from":"now"}]},"x":1}"""u8.ToArray());

        Assert.Equal(
            ["/suspect/of/0/item", "/suspect/of/0/lot", "/suspect/of/1/colour", "/suspect/of/1/setting", "/suspect/of/1/tool", "/suspect/of/2/from", "/x"],
            refusal!.Faults.Select(f => f.Pointer).Order(StringComparer.Ordinal));
    }

    [Theory]
    [InlineData(8, true)]
    [InlineData(9, false)]
    public void At_most_8_levels(int levels, bool isRead)
    {
        var node = """{"kind":"lot","item":"ADH","lot":"L1"}""";
        for (var level = 1; level < levels; level++)
        {
            node = $$"""{"kind":"except","of":{{node}},"but":{"kind":"tool","tool":"SD-1"} }""";
        }

        var (suspect, refusal) = SuspectJson.ReadQuestion(Encoding.UTF8.GetBytes($$"""{"suspect": {{node}} }"""));

        Assert.Equal(isRead, suspect is not null);
        Assert.Equal(isRead, refusal is null);
    }

    [Theory]
    [InlineData(49, true)]
    [InlineData(50, false)]
    [InlineData(400, false)]
    public void At_most_50_nodes(int parts, bool isRead)
    {
        var of = string.Join(',', Enumerable.Range(1, parts).Select(n => $$"""{"kind":"lot","item":"ADH","lot":"L{{n}}"}"""));
        var (suspect, refusal) = SuspectJson.ReadQuestion(Encoding.UTF8.GetBytes($$"""{"suspect":{"kind":"or","of":[{{of}}]} }"""));

        Assert.Equal(isRead, suspect is not null);
        Assert.True(isRead || refusal!.Faults.Length == 1);
    }
}
