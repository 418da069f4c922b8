using System.Diagnostics;
using System.Text.Json;
using System.Text.RegularExpressions;
using Traceability.Testing;

namespace Traceability.Acceptance.Tour;

/// <summary>README's tour, run by a shell as it is written; only the port is another one.</summary>
public sealed partial class TourTests
{
    private static readonly TimeSpan Patience = TimeSpan.FromMinutes(2);

    [Fact]
    public async Task The_tour_works_as_written()
    {
        await using var service = await ServiceHost.StartAsync();
        var root = Root();
        var folder = Directory.CreateTempSubdirectory("traceability-tour-");
        try
        {
            Directory.CreateSymbolicLink(Path.Combine(folder.FullName, "docs"), Path.Combine(root, "docs"));
            Directory.CreateSymbolicLink(Path.Combine(folder.FullName, "data"), service.DataFolder);
            var script = Script(await File.ReadAllTextAsync(Path.Combine(root, "README.md")));
            Assert.Contains("http://127.0.0.1:5080", script, StringComparison.Ordinal);

            var answers = await RunAsync(script.Replace("http://127.0.0.1:5080", service.Address.ToString().TrimEnd('/'), StringComparison.Ordinal), folder.FullName);

            Assert.Equal(13, answers.Count);
            Assert.DoesNotContain(answers, a => a.TryGetProperty("code", out _));
            Assert.Equal("go", answers[3].GetProperty("answer").GetString());
            Assert.False(answers[4].GetProperty("isRepeat").GetBoolean());
            Assert.True(answers[5].GetProperty("isRepeat").GetBoolean());
            Assert.Equal("interval-too-short", Assert.Single(answers[6].GetProperty("findings").EnumerateArray().ToArray()).GetProperty("kind").GetString());
            Assert.Equal("proven", Assert.Single(answers[7].GetProperty("members").EnumerateArray().ToArray()).GetProperty("verdict").GetString());
            Assert.Equal(3, answers[8].GetProperty("records").GetArrayLength());
            Assert.Equal(2, answers[9].GetProperty("cells").GetArrayLength());
            Assert.Equal(1, answers[10].GetProperty("past").GetArrayLength());
            Assert.Equal(0, answers[12].GetProperty("members").GetArrayLength());
        }
        finally
        {
            folder.Delete(recursive: true);
        }
    }

    private static string Script(string readme)
    {
        var tour = readme[readme.IndexOf("<!-- tour -->", StringComparison.Ordinal)..readme.IndexOf("<!-- end of tour -->", StringComparison.Ordinal)];
        return string.Join('\n', Blocks().Matches(tour).Select(m => m.Groups["script"].Value));
    }

    private static async Task<List<JsonElement>> RunAsync(string script, string folder)
    {
        using var shell = new Process
        {
            StartInfo = new("bash", ["-euo", "pipefail", "-c", script]) { WorkingDirectory = folder, RedirectStandardOutput = true, RedirectStandardError = true, UseShellExecute = false },
        };
        shell.Start();
        using var patience = new CancellationTokenSource(Patience);
        var errors = shell.StandardError.ReadToEndAsync(patience.Token);
        var output = await shell.StandardOutput.ReadToEndAsync(patience.Token);
        await shell.WaitForExitAsync(patience.Token);
        Assert.True(shell.ExitCode == 0, await errors);
        return ReadAll(output);
    }

    // The answers stand one after another, some without a line break between them.
    private static List<JsonElement> ReadAll(string output)
    {
        var reader = new Utf8JsonReader(System.Text.Encoding.UTF8.GetBytes(output), new JsonReaderOptions { AllowMultipleValues = true });
        var values = new List<JsonElement>();
        while (reader.Read())
        {
            values.Add(JsonElement.ParseValue(ref reader));
        }

        return values;
    }

    private static string Root()
    {
        var folder = new DirectoryInfo(AppContext.BaseDirectory);
        while (!File.Exists(Path.Combine(folder.FullName, "Traceability.sln")))
        {
            folder = folder.Parent ?? throw new InvalidOperationException("The tests do not run below the repository.");
        }

        return folder.FullName;
    }

    [GeneratedRegex("```bash\n(?<script>.*?)```", RegexOptions.Singleline | RegexOptions.ExplicitCapture, 1_000)]
    private static partial Regex Blocks();
}
